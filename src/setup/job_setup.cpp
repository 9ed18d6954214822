// SPDX-License-Identifier: Apache-2.0
#include "setup/job_setup.hpp"
#include "base/text.hpp"

#include "plant/link_model.hpp"
#include "plant/presets.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <numeric>
#include <set>
#include <unordered_set>

namespace guidepin::setup {

using plant::ConnectorEnd;
using plant::EndFitting;
using plant::KeyRelation;

namespace {

/// The end as a test cord's plug must fit it: behind an opposed-key adapter, numbered as on that plug.
CablingEnd normalised(CablingEnd const& end)
{
    CablingEnd result = end;
    bool const aligned = end.fitting == EndFitting::aligned_adapter;
    result.fitting =
        end.fitting == EndFitting::bare_plug ? EndFitting::bare_plug : EndFitting::opposed_adapter;
    if (!aligned) return result;
    plant::Family const& family = end.plug.family;
    result.plug.occupied.reset();
    for (int const p : plant::positions_of(end.plug.occupied)) {
        int const on_cord = plant::met_position(family, KeyRelation::aligned, p);
        int const behind_opposed = plant::met_position(family, KeyRelation::opposed, on_cord);
        result.plug.occupied.set(static_cast<std::size_t>(behind_opposed - 1));
    }
    if (end.plug.slope == plant::Slope::down)
        result.plug.slope = plant::Slope::up;
    else if (end.plug.slope == plant::Slope::up)
        result.plug.slope = plant::Slope::down;
    return result;
}

std::string end_key(CablingEnd const& end, bool with_positions)
{
    return fmt::format("{} {} {} {}", end.plug.family.name(), plant::name_of(end.plug.pins),
                       plant::name_of(end.plug.slope),
                       with_positions ? plant::occupancy_text(end.plug.occupied) : std::string{});
}

std::string key_of(Cabling const& cabling, bool with_positions)
{
    return fmt::format("{} {} | {} | {}", facts::name_of(cabling.glass.kind),
                       cabling.glass.kind == facts::FibreKind::multimode ? cabling.glass.core_um : 0,
                       end_key(cabling.first, with_positions), end_key(cabling.second, with_positions));
}

/// Links that one set-up serves, all seen in one direction.
struct Kind
{
    Cabling cabling;
    std::vector<GroupedEntry> entries;
    bool may_turn = true;
};

void join(Cabling& into, Cabling const& more)
{
    // Behind a panel the map counts on the test cord's plug, at a bare plug on the cabling's own.
    if (into.expected != more.expected || into.first.fitting != more.first.fitting ||
        into.second.fitting != more.second.fitting) {
        into.expected.reset();
    }
    into.first.plug.occupied |= more.first.plug.occupied;
    into.second.plug.occupied |= more.second.plug.occupied;
    if (more.first.fitting == EndFitting::bare_plug) into.first.fitting = EndFitting::bare_plug;
    if (more.second.fitting == EndFitting::bare_plug) into.second.fitting = EndFitting::bare_plug;
    if (into.category != more.category) into.category.clear();
    if (into.first.name != more.first.name) into.first.name.clear();
    if (into.second.name != more.second.name) into.second.name.clear();
}

std::vector<Kind> kinds_of(std::vector<JobLinks> const& links, std::vector<std::size_t> const& entries,
                           bool either_end, bool with_positions)
{
    std::map<std::string, std::size_t> by_key;
    std::vector<Kind> kinds;
    for (std::size_t const entry : entries) {
        Cabling one_way = links[entry].cabling;
        one_way.first = normalised(one_way.first);
        one_way.second = normalised(one_way.second);
        std::string const key = key_of(one_way, with_positions);
        auto const there = by_key.find(key);
        if (there != by_key.end()) {
            kinds[there->second].entries.push_back({entry, false});
            join(kinds[there->second].cabling, one_way);
            continue;
        }
        Cabling const other_way = turned(one_way);
        auto const reversed = either_end ? by_key.find(key_of(other_way, with_positions)) : by_key.end();
        if (reversed != by_key.end()) {
            kinds[reversed->second].entries.push_back({entry, true});
            join(kinds[reversed->second].cabling, other_way);
            continue;
        }
        by_key[key] = kinds.size();
        kinds.push_back({one_way, {{entry, false}}, either_end});
    }
    return kinds;
}

struct StepTaken
{
    std::size_t kind = 0;
    bool turned = false;
    bool new_reference = true;
    Plan plan;
    Question question;
};

/// What the next set-up starts from.
struct Standing
{
    Kit kit;
    std::optional<InForce> in_force;

    std::string key() const
    {
        std::string text;
        for (Cord const& cord : kit.cords) {
            for (CordEnd const& end : cord.ends) text += end.plug.pins == plant::Pins::pinned ? 'P' : 'U';
        }
        if (in_force) {
            text += fmt::format("|{} {} {} {} {}", name_of(in_force->arrangement), in_force->launch.cord,
                                in_force->launch.turned, in_force->tail.cord, in_force->tail.turned);
        }
        return text;
    }
};

struct OrderCost
{
    int pin_changes = 0, references = 0, matings = 0;
    friend auto operator<=>(OrderCost const&, OrderCost const&) = default;
    OrderCost plus(OrderCost const& other) const
    {
        return {pin_changes + other.pin_changes, references + other.references, matings + other.matings};
    }
};

class Ordering
{
  public:
    Ordering(JobQuestion const& job, std::vector<Kind> const& kinds)
        : job_(job)
        , kinds_(kinds)
    {
    }

    Result<std::vector<StepTaken>> best_order()
    {
        Standing const start{job_.kit, std::nullopt};
        TRY(rest_of(0, start));
        std::vector<StepTaken> way;
        std::uint32_t done = 0;
        Standing now = start;
        while (way.size() < kinds_.size()) {
            Best const& best = memo_.at(key(done, now));
            way.push_back(best.step);
            done |= 1U << best.step.kind;
            now = after(now, best.step);
        }
        return way;
    }

    /// The nearest next, where there are too many kinds to try all orders.
    Result<std::vector<StepTaken>> nearest_next()
    {
        std::vector<StepTaken> way;
        std::vector<bool> done(kinds_.size(), false);
        Standing now{job_.kit, std::nullopt};
        while (way.size() < kinds_.size()) {
            std::optional<StepTaken> next;
            for (std::size_t k = 0; k < kinds_.size(); ++k) {
                if (done[k]) continue;
                TRY_ASSIGN(std::vector<StepTaken> const ways, ways_to(k, now));
                for (StepTaken const& step : ways) {
                    if (!next || cost_of(step) < cost_of(*next)) next = step;
                }
            }
            if (!next)
                return Error{Errc::internal,
                             "A kind of link that had a set-up has none any more; please report."};
            done[next->kind] = true;
            now = after(now, *next);
            way.push_back(std::move(*next));
        }
        return way;
    }

    static OrderCost cost_of(StepTaken const& step)
    {
        return {step.plan.cost.pin_changes, step.new_reference ? 1 : 0, step.plan.cost.reference_matings};
    }

  private:
    struct Best
    {
        OrderCost cost;
        StepTaken step;
    };

    static std::string key(std::uint32_t done, Standing const& standing)
    {
        return fmt::format("{}#{}", done, standing.key());
    }

    static Standing after(Standing const& before, StepTaken const& step)
    {
        return {step.plan.kit_after(before.kit), step.plan.in_force()};
    }

    /// Every way to do this kind next: from either end, under the reference in force or a new one.
    Result<std::vector<StepTaken>> ways_to(std::size_t kind, Standing const& standing)
    {
        std::string const memo_key = fmt::format("{}#{}", kind, standing.key());
        auto const known = ways_.find(memo_key);
        if (known != ways_.end()) return known->second;
        std::vector<StepTaken> ways;
        for (bool const turn : {false, true}) {
            if (turn && !kinds_[kind].may_turn) continue;
            for (bool const go_on : {true, false}) {
                if (go_on && (!standing.in_force || !job_.reference_may_go_on)) continue;
                StepTaken step;
                step.kind = kind;
                step.turned = turn;
                step.new_reference = !go_on;
                step.question.source = job_.source;
                step.question.meter = job_.meter;
                step.question.cabling = turn ? turned(kinds_[kind].cabling) : kinds_[kind].cabling;
                step.question.kit = standing.kit;
                step.question.permitted = job_.permitted;
                step.question.cord_check = job_.cord_check;
                if (go_on) step.question.in_force = standing.in_force;
                TRY_ASSIGN(Answer answer, solve(step.question, SolveOptions{false}));
                if (!answer.plan) continue;
                step.plan = std::move(*answer.plan);
                ways.push_back(std::move(step));
            }
        }
        ways_[memo_key] = ways;
        return ways;
    }

    Result<OrderCost> rest_of(std::uint32_t done, Standing const& standing)
    {
        if (done == (1U << kinds_.size()) - 1U) return OrderCost{};
        std::string const memo_key = key(done, standing);
        auto const known = memo_.find(memo_key);
        if (known != memo_.end()) return known->second.cost;
        std::optional<Best> best;
        for (std::size_t k = 0; k < kinds_.size(); ++k) {
            if ((done & (1U << k)) != 0) continue;
            TRY_ASSIGN(std::vector<StepTaken> const ways, ways_to(k, standing));
            for (StepTaken const& step : ways) {
                TRY_ASSIGN(OrderCost const rest, rest_of(done | (1U << k), after(standing, step)));
                OrderCost const all = cost_of(step).plus(rest);
                if (!best || all < best->cost) best = Best{all, step};
            }
        }
        if (!best)
            return Error{Errc::internal,
                         "A kind of link that had a set-up has none any more; please report."};
        OrderCost const cost = best->cost;
        memo_.emplace(memo_key, std::move(*best));
        return cost;
    }

    JobQuestion const& job_;
    std::vector<Kind> const& kinds_;
    std::map<std::string, Best> memo_;
    std::map<std::string, std::vector<StepTaken>> ways_;
};

Result<std::optional<NoPlan>> impossible(JobQuestion const& job, Kind const& kind, bool look_for_remedy)
{
    std::optional<NoPlan> none;
    for (bool const turn : {false, true}) {
        if (turn && !kind.may_turn) continue;
        Question question;
        question.source = job.source;
        question.meter = job.meter;
        question.cabling = turn ? turned(kind.cabling) : kind.cabling;
        question.kit = job.kit;
        question.permitted = job.permitted;
        question.cord_check = job.cord_check;
        TRY_ASSIGN(Answer answer, solve(question, SolveOptions{look_for_remedy}));
        if (answer.plan) return std::optional<NoPlan>{};
        if (!none || (!none->remedy && answer.none.remedy) ||
            (none->remedy && answer.none.remedy &&
             answer.none.remedy->price_class < none->remedy->price_class)) {
            none = std::move(answer.none);
        }
    }
    return none;
}

std::string cord_kind_text(Cord const& cord)
{
    auto const end = [](CordEnd const& e) {
        std::string text = e.pins_exchangeable ? "exchangeable pins" : plant::name_of(e.plug.pins);
        if (e.plug.face == plant::Face::angled)
            text += e.plug.slope == plant::Slope::up ? " up-angled" : " angled";
        return text;
    };
    return fmt::format("{}-grade {} cord, {} to {}, type {}", facts::name_of(cord.grade),
                       plant::words_of(cord.ends[0].plug.family), end(cord.ends[0]), end(cord.ends[1]),
                       cord.type);
}

std::vector<KitLine> kit_list(JobQuestion const& job, std::vector<JobGroup> const& groups)
{
    std::set<int> used;
    std::set<int> test_cords; // wear most, and stop the work when they fail
    int opposed = 0;
    int aligned = 0;
    bool pins = false;
    for (JobGroup const& group : groups) {
        Plan const& plan = group.plan;
        for (CordUse const& use : {plan.launch, plan.tail}) {
            used.insert(use.cord);
            test_cords.insert(use.cord);
        }
        if (plan.extra) used.insert(plan.extra->cord);
        if (plan.known) used.insert(plan.known->cord);
        opposed = std::max(opposed, plan.opposed_adapters);
        aligned = std::max(aligned, plan.aligned_adapters);
        pins = pins || plan.pin_tool;
    }
    std::vector<KitLine> lines;
    auto const line_for = [&lines](std::string const& text) -> KitLine& {
        for (KitLine& line : lines) {
            if (line.text == text) return line;
        }
        lines.push_back({});
        lines.back().text = text;
        return lines.back();
    };
    for (int const c : used) {
        Cord const& cord = job.kit.cords[static_cast<std::size_t>(c)];
        KitLine& line = line_for(cord_kind_text(cord));
        ++line.needed;
        line.ids.push_back(cord.id);
        if (test_cords.count(c) > 0) {
            line.spare = 1;
            line.why = "launch and tail cords wear with every link; without a spare the work stops";
        }
    }
    for (KitLine& line : lines) {
        for (Cord const& cord : job.kit.cords) line.in_kit += cord_kind_text(cord) == line.text ? 1 : 0;
    }
    auto const key =
        groups.empty() ? plant::Family::Key::mpo12 : groups.front().question.cabling.first.plug.family.key;
    auto const adapters = [&](int needed, KeyRelation keys) {
        if (needed == 0) return;
        KitLine line;
        line.text = fmt::format("{} adapter with {} keys",
                                key == plant::Family::Key::mpo16 ? "MPO-16" : "MPO-12", plant::name_of(keys));
        line.needed = needed;
        line.spare = 1;
        line.in_kit = job.kit.adapters_of(keys, key);
        line.why = "an adapter that is dirty inside cannot be cleaned on every site";
        lines.push_back(std::move(line));
    };
    adapters(opposed, KeyRelation::opposed);
    adapters(aligned, KeyRelation::aligned);
    if (pins) {
        KitLine line;
        line.text = "pin tool, with a set of spare pins";
        line.needed = 1;
        line.in_kit = static_cast<int>(job.kit.pin_tools.size());
        line.why = "a bent pin must not be used again";
        lines.push_back(std::move(line));
    }
    return lines;
}

std::string why_text(Question const& question, Plan const& plan, bool new_reference)
{
    plant::Pins const launch = question.cabling.first.plug.pins;
    std::string text;
    if (launch == question.cabling.second.plug.pins) {
        text = fmt::format("Both ends of the cabling are {}", plant::name_of(launch));
    } else {
        text = fmt::format("Launch at the {} end", plant::name_of(launch));
        if (launch == question.meter.face.pins) text += ", whose pins are those of the meter's port";
    }
    text += fmt::format("; {}", words_of(plan.arrangement));
    text += new_reference ? "" : " that is already in force";
    text += plan.cost.pin_changes == 0 ? "; no pin changes."
                                       : fmt::format("; pin changes: {}.", plan.cost.pin_changes);
    return text;
}

/// Whether the links are named, or only what they cost is asked for.
enum class Naming : std::uint8_t { all, none };

Result<JobPlan> planned(JobQuestion const& job, std::vector<JobLinks> const& links, bool look_for_remedy,
                        Naming naming)
{
    JobPlan plan;
    std::vector<Kind> kinds;
    std::vector<std::size_t> every(links.size());
    std::iota(every.begin(), every.end(), std::size_t{0});
    for (Kind& kind : kinds_of(links, every, job.either_end, false)) {
        TRY_ASSIGN(std::optional<NoPlan> none, impossible(job, kind, false));
        if (!none) {
            kinds.push_back(std::move(kind));
            continue;
        }
        // Perhaps only the different positions of its links prevent one plan: try each by itself.
        std::vector<std::size_t> members;
        for (GroupedEntry const& member : kind.entries) members.push_back(member.entry);
        for (Kind& part : kinds_of(links, members, job.either_end, true)) {
            TRY_ASSIGN(std::optional<NoPlan> part_none, impossible(job, part, look_for_remedy));
            if (!part_none) {
                kinds.push_back(std::move(part));
                continue;
            }
            UnsolvedLinks unsolved;
            for (GroupedEntry const& member : part.entries) {
                std::vector<std::string> const& ids = links[member.entry].ids;
                unsolved.ids.insert(unsolved.ids.end(), ids.begin(), ids.end());
            }
            unsolved.none = std::move(*part_none);
            plan.unsolved.push_back(std::move(unsolved));
        }
    }
    Ordering ordering{job, kinds};
    plan.exact = kinds.size() <= static_cast<std::size_t>(exact_kinds);
    TRY_ASSIGN(std::vector<StepTaken> order, plan.exact ? ordering.best_order() : ordering.nearest_next());
    plan.cost.setups = static_cast<int>(order.size());
    for (StepTaken& step : order) {
        OrderCost const cost = Ordering::cost_of(step);
        plan.cost.pin_changes += cost.pin_changes;
        plan.cost.references += cost.references;
        plan.cost.reference_matings += cost.matings;
        JobGroup group;
        group.entries = std::move(kinds[step.kind].entries);
        for (GroupedEntry& entry : group.entries) {
            if (step.turned) entry.from_end_b = !entry.from_end_b;
            if (naming == Naming::none) continue;
            for (std::string const& id : links[entry.entry].ids)
                group.links.push_back({id, entry.from_end_b});
        }
        group.new_reference = step.new_reference;
        group.why = why_text(step.question, step.plan, step.new_reference);
        group.question = std::move(step.question);
        group.plan = std::move(step.plan);
        plan.groups.push_back(std::move(group));
    }
    plan.kit_list = kit_list(job, plan.groups);
    return plan;
}

Result<JobAlternative> alternative(std::string name, JobQuestion const& job,
                                   std::vector<JobLinks> const& all_links)
{
    JobAlternative other;
    other.name = std::move(name);
    TRY_ASSIGN(JobPlan const plan, planned(job, all_links, false, Naming::none));
    for (JobGroup const& group : plan.groups) {
        other.most_joints_in_reference =
            std::max(other.most_joints_in_reference, joints_in_reference(method_of(group.plan.arrangement)));
    }
    if (plan.unsolved.empty()) {
        other.cost = plan.cost;
    } else {
        std::size_t links = 0;
        for (UnsolvedLinks const& unsolved : plan.unsolved) links += unsolved.ids.size();
        other.blocker = fmt::format("not possible for {} link{}: {}", links, plural_ending(links),
                                    plan.unsolved.front().none.blockers.front().text());
    }
    return other;
}

} // namespace

Result<JobLinks> job_link(plant::LinkSpec const& spec, facts::Tables const& tables,
                          plant::Convention convention)
{
    TRY_ASSIGN(facts::FibreCategory const* const category, tables.category(spec.category));
    plant::LinkOptions options;
    options.convention = convention;
    TRY_ASSIGN(plant::LinkModel const model, plant::build_link(spec, options));
    if (model.near_end.family.key == plant::Family::Key::duplex ||
        model.far_end.family.key == plant::Family::Key::duplex) {
        return Error{
            Errc::invalid_input,
            fmt::format("Link {} ends in a module's duplex ports; this set-up is for links between array "
                        "plugs.",
                        spec.id)};
    }
    JobLinks link;
    link.ids = {spec.id};
    link.cabling.first = {spec.a.name, model.near_end, spec.a.fitting};
    link.cabling.second = {spec.b.name, model.far_end, spec.b.fitting};
    link.cabling.first.plug.kind = link.cabling.second.plug.kind = plant::EndKind::plug;
    link.cabling.glass = {category->kind,
                          category->kind == facts::FibreKind::multimode ? category->core_um : 0};
    link.cabling.category = spec.category;
    link.cabling.expected = model.positions;
    return link;
}

Result<JobPlan> plan_job(JobQuestion const& question, bool with_alternatives)
{
    if (question.links.empty())
        return Error{Errc::invalid_input, "The job has no links; read a schedule first."};
    std::unordered_set<std::string_view> ids;
    for (JobLinks const& alike : question.links) {
        for (std::string const& id : alike.ids) {
            if (!ids.insert(id).second)
                return Error{Errc::invalid_input, fmt::format("Link {} is in the job twice.", id)};
        }
    }
    TRY_ASSIGN(JobPlan plan, planned(question, question.links, true, Naming::all));
    if (!with_alternatives) return plan;
    JobQuestion same{question.source,
                     question.meter,
                     question.kit,
                     question.permitted,
                     question.cord_check,
                     question.either_end,
                     question.reference_may_go_on,
                     {}};
    if (question.either_end) {
        JobQuestion other = same;
        other.either_end = false;
        TRY_ASSIGN(JobAlternative row, alternative("always launched from end a", other, question.links));
        plan.alternatives.push_back(std::move(row));
    }
    if (question.reference_may_go_on && plan.groups.size() > 1) {
        JobQuestion other = same;
        other.reference_may_go_on = false;
        TRY_ASSIGN(JobAlternative row, alternative("a new reference for each set-up", other, question.links));
        plan.alternatives.push_back(std::move(row));
    }
    for (Arrangement const arrangement :
         {Arrangement::one_cord, Arrangement::changer, Arrangement::two_cord, Arrangement::three_cord}) {
        if (question.permitted == std::vector{arrangement}) continue;
        JobQuestion other = same;
        other.permitted = {arrangement};
        TRY_ASSIGN(JobAlternative row, alternative(fmt::format("{} for everything", words_of(arrangement)),
                                                   other, question.links));
        plan.alternatives.push_back(std::move(row));
    }
    return plan;
}

} // namespace guidepin::setup
