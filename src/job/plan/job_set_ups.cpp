// SPDX-License-Identifier: Apache-2.0
#include "job/plan/job_set_ups.hpp"
#include "job/kit/kit_of_job.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <iterator>
#include <map>
#include <set>
#include <tuple>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// Links that one pair of instruments measures.
struct Party
{
    KitInstrument const* source = nullptr;
    KitInstrument const* meter = nullptr;
    std::vector<setup::JobLinks> links;
};

/// Groups the links by what setup::job_link looks at: thousands of links are a handful of kinds.
std::vector<std::vector<plant::LinkSpec const*>> alike_links(std::vector<plant::LinkSpec> const& links)
{
    auto const looked_at = [](plant::LinkSpec const& link) {
        return std::make_tuple(std::string_view{link.category}, std::string_view{link.trunk_type},
                               link.family.key, link.family.rows, link.family.columns,
                               link.fibres.to_ullong(), link.face, link.a.pins, link.a.fitting, link.b.pins,
                               link.b.fitting);
    };
    std::vector<std::vector<plant::LinkSpec const*>> kinds;
    std::map<decltype(looked_at(links.front())), std::size_t> known;
    for (plant::LinkSpec const& link : links) {
        auto const [at, is_new] = known.emplace(looked_at(link), kinds.size());
        if (is_new) kinds.emplace_back();
        kinds[at->second].push_back(&link);
    }
    return kinds;
}

/// Takes the link's own name out of the reason, so that alike links share one reason.
std::string reason_for_any(std::string reason, std::string const& id)
{
    for (std::string const& named : {fmt::format("Link {}", id), fmt::format("Link '{}'", id)}) {
        if (!reason.starts_with(named)) continue;
        reason.replace(0, named.size(), "The link");
        break;
    }
    return reason;
}

/// Puts links that were grouped by kind back into the order of the schedule, in which people look for them.
template <typename Link, typename Name>
void as_scheduled(JobState const& state, std::vector<Link>& links, Name const& name)
{
    std::vector<std::pair<std::size_t, std::size_t>> order;
    order.reserve(links.size());
    for (Link const& link : links) {
        auto const found = state.link_index.find(name(link));
        order.emplace_back(found == state.link_index.end() ? state.links.size() : found->second,
                           order.size());
    }
    if (std::is_sorted(order.begin(), order.end())) return;
    std::sort(order.begin(), order.end());
    std::vector<Link> sorted;
    sorted.reserve(links.size());
    for (auto const& [place, from] : order) sorted.push_back(std::move(links[from]));
    links = std::move(sorted);
}

void as_scheduled(JobState const& state, std::vector<std::string>& ids)
{
    as_scheduled(state, ids, [](std::string const& id) -> std::string const& { return id; });
}

/// What the set-ups of one pair of instruments cost, and what they would cost another way.
struct PartyCost
{
    setup::JobCost own;
    int most_joints = 0;
    std::vector<setup::JobAlternative> alternatives;
};

void add_cost(setup::JobCost& sum, setup::JobCost const& more)
{
    sum.setups += more.setups;
    sum.pin_changes += more.pin_changes;
    sum.references += more.references;
    sum.reference_matings += more.reference_matings;
}

/// Adds the alternatives of all pairs up. A pair without an alternative of that name already works that way.
std::vector<setup::JobAlternative> alternatives_of(std::vector<PartyCost> const& parties)
{
    std::vector<setup::JobAlternative> all;
    for (PartyCost const& party : parties) {
        for (setup::JobAlternative const& each : party.alternatives) {
            bool const known = std::any_of(all.begin(), all.end(), [&](setup::JobAlternative const& other) {
                return other.name == each.name;
            });
            if (!known) all.push_back({each.name, setup::JobCost{}, 0, {}});
        }
    }
    for (setup::JobAlternative& sum : all) {
        for (PartyCost const& party : parties) {
            auto const found =
                std::find_if(party.alternatives.begin(), party.alternatives.end(),
                             [&](setup::JobAlternative const& each) { return each.name == sum.name; });
            bool const own = found == party.alternatives.end();
            sum.most_joints_in_reference = std::max(
                sum.most_joints_in_reference, own ? party.most_joints : found->most_joints_in_reference);
            if (!own && !found->cost) {
                sum.cost.reset();
                if (sum.blocker.empty()) sum.blocker = found->blocker;
            } else if (sum.cost) {
                add_cost(*sum.cost, own ? party.own : *found->cost);
            }
        }
    }
    return all;
}

/// Adds the list of cords, adapters and tools of one pair of instruments to that of the job. The pairs work
/// one after the other, so they share adapters and tools; cords are listed by their labels.
void add_kit_list(std::vector<setup::KitLine>& list, std::vector<setup::KitLine> const& more)
{
    for (setup::KitLine const& line : more) {
        auto const known = std::find_if(list.begin(), list.end(),
                                        [&](setup::KitLine const& each) { return each.text == line.text; });
        if (known == list.end()) {
            list.push_back(line);
            continue;
        }
        for (std::string const& id : line.ids) {
            if (std::find(known->ids.begin(), known->ids.end(), id) == known->ids.end())
                known->ids.push_back(id);
        }
        known->needed = std::max({known->needed, line.needed, static_cast<int>(known->ids.size())});
        known->spare = std::max(known->spare, line.spare);
        known->in_kit = std::max(known->in_kit, line.in_kit);
    }
}

/// Plans a whole job: parts its links by the instruments that fit them, plans each part, and adds the parts
/// up.
class JobPlanner
{
  public:
    /// `whole` is the kit with what the register refuses; `rulings` say what that is.
    JobPlanner(JobState const& state, JobSetupWish const& wish, KitFile const& whole,
               KitRulings const& rulings)
        : state_(state)
        , whole_(whole)
        , rulings_(rulings)
        , fit_(without_refused(whole, rulings))
        , rules_(setup_rules_of(state))
        , alternatives_(wish.alternatives)
    {
        question_.kit = fit_.kit;
        question_.either_end = wish.either_end;
    }

    /// Adds groups, costs, kit and unsolved links to `all_`. `permitted`: the methods to choose from.
    Result<JobSetups> plan(std::vector<setup::Arrangement> permitted, std::vector<std::string> remarks)
    {
        all_.remarks = std::move(remarks);
        question_.permitted = std::move(permitted);
        std::vector<PartyCost> costs;
        for (Party& party : parties()) {
            TRY_ASSIGN(PartyCost cost, add_party(party));
            costs.push_back(std::move(cost));
        }
        for (UnsolvedGroup& each : all_.unsolved) as_scheduled(state_, each.links);
        all_.alternatives = alternatives_of(costs);
        return std::move(all_);
    }

  private:
    void note_unsolved(std::vector<std::string> links, std::string reason)
    {
        for (UnsolvedGroup& known : all_.unsolved) {
            if (known.reason != reason) continue;
            known.links.insert(known.links.end(), links.begin(), links.end());
            return;
        }
        all_.unsolved.push_back({std::move(links), std::move(reason), {}, {}});
    }

    /// Returns why the register refuses the instruments of this role that would serve this cabling.
    std::vector<std::string> refused_instruments(InstrumentRole role, setup::Cabling const& cabling) const
    {
        std::vector<std::string> serials;
        for (KitInstrument const& each : whole_.instruments) {
            if (each.role == role && each.port.face.family.key == cabling.first.plug.family.key &&
                each.serves(cabling.glass.kind))
                serials.push_back(each.entry.serial);
        }
        return refusals_of(serials, rulings_);
    }

    /// Returns why these links have no pair of instruments.
    std::string missing_instrument(setup::Cabling const& cabling, bool source, bool meter) const
    {
        std::vector<std::string> refused;
        if (!source) refused = refused_instruments(InstrumentRole::source, cabling);
        if (!meter) {
            auto more = refused_instruments(InstrumentRole::meter, cabling);
            std::move(more.begin(), more.end(), std::back_inserter(refused));
        }
        return !refused.empty()
                   ? refused_text(refused)
                   : fmt::format("No {} of the kit has an {} port for {} fibre.", source ? "meter" : "source",
                                 plant::words_of(cabling.first.plug.family),
                                 facts::name_of(cabling.glass.kind));
    }

    /// Parts the links of the job by the instruments that fit them; links that none fits become unsolved.
    std::vector<Party> parties()
    {
        std::vector<Party> parties;
        for (std::vector<plant::LinkSpec const*> const& alike : alike_links(state_.links)) {
            plant::LinkSpec const& spec = *alike.front();
            std::vector<std::string> ids;
            ids.reserve(alike.size());
            for (plant::LinkSpec const* each : alike) ids.push_back(each->id);
            auto link = setup::job_link(spec, state_.tables);
            if (!link) {
                note_unsolved(std::move(ids), reason_for_any(link.error().message, spec.id));
                continue;
            }
            plant::ConnectorEnd const& plug = link->cabling.first.plug;
            facts::FibreKind const kind = link->cabling.glass.kind;
            auto const* const source = fitting_instrument(fit_, InstrumentRole::source, plug, kind);
            auto const* const meter = fitting_instrument(fit_, InstrumentRole::meter, plug, kind);
            if (!source || !meter) {
                note_unsolved(std::move(ids), missing_instrument(link->cabling, source, meter));
                continue;
            }
            auto party = std::find_if(parties.begin(), parties.end(), [&](Party const& each) {
                return each.source == source && each.meter == meter;
            });
            if (party == parties.end()) party = parties.insert(parties.end(), {source, meter, {}});
            name_common_ends(link->cabling, alike);
            link->ids = std::move(ids);
            party->links.push_back(std::move(link).value());
        }
        return parties;
    }

    /// Keeps the name of an end only if all these links share it.
    static void name_common_ends(setup::Cabling& cabling, std::vector<plant::LinkSpec const*> const& alike)
    {
        auto const shared = [&](auto const& name_of_end) {
            return std::all_of(alike.begin(), alike.end(), [&](plant::LinkSpec const* each) {
                return name_of_end(*each) == name_of_end(*alike.front());
            });
        };
        if (!shared([](auto const& each) -> auto const& { return each.a.name; })) cabling.first.name.clear();
        if (!shared([](auto const& each) -> auto const& { return each.b.name; })) cabling.second.name.clear();
    }

    Result<PartyCost> add_party(Party& party)
    {
        question_.source = party.source->port;
        question_.meter = party.meter->port;
        question_.links = std::move(party.links);
        PartyCost costs;
        TRY_ASSIGN(setup::JobPlan plan, setup::plan_job(question_, alternatives_));
        for (setup::JobGroup& group : plan.groups) {
            TRY_ASSIGN(SetupGroup made, group_of(std::move(group), party));
            costs.most_joints = std::max(costs.most_joints, made.setup.counting.joints_removed);
            all_.groups.push_back(std::move(made));
        }
        costs.own = plan.cost;
        costs.alternatives = std::move(plan.alternatives);
        add_cost(all_.cost, plan.cost);
        all_.exact = all_.exact && plan.exact;
        add_kit_list(all_.kit_list, plan.kit_list);
        for (setup::UnsolvedLinks const& each : plan.unsolved) TRY(add_unsolved(each));
        return costs;
    }

    Result<SetupGroup> group_of(setup::JobGroup group, Party const& party) const
    {
        SetupGroup made;
        made.number = static_cast<int>(all_.groups.size()) + 1;
        made.links = std::move(group.links);
        made.new_reference = group.new_reference;
        made.why = std::move(group.why);
        std::vector<setup::JobLinks> as_launched;
        for (setup::GroupedEntry const& each : group.entries) {
            as_launched.push_back(question_.links[each.entry]);
            if (each.from_end_b) as_launched.back().cabling = setup::turned(as_launched.back().cabling);
        }
        TRY_ASSIGN(made.setup,
                   worked_out(std::move(group.question), std::move(group.plan), rules_, as_launched));
        if (as_launched.size() > 1) {
            as_scheduled(state_, made.links,
                         [](setup::GroupedLink const& link) -> std::string const& { return link.id; });
            as_scheduled(state_, made.setup.other_fittings);
            for (ShownFor& shown : made.setup.shown) as_scheduled(state_, shown.links);
        }
        made.setup.source_serial = party.source->entry.serial;
        made.setup.meter_serial = party.meter->entry.serial;
        made.setup.decisions = decisions_of(made.setup, rulings_);
        return made;
    }

    /// Says why these links have no set-up: because of the register alone, or what would help.
    Outcome add_unsolved(setup::UnsolvedLinks const& links)
    {
        if (!rulings_.empty()) {
            TRY_ASSIGN(auto const refused, refused_in_the_way(links.ids));
            if (!refused.empty()) {
                note_unsolved(links.ids, refused_text(refused));
                return {};
            }
        }
        setup::Question asked;
        asked.source = question_.source;
        asked.meter = question_.meter;
        asked.kit = question_.kit;
        asked.permitted = question_.permitted;
        asked.cord_check = question_.cord_check;
        for (setup::JobLinks const& alike : question_.links) {
            if (!alike.ids.empty() && alike.ids.front() == links.ids.front()) asked.cabling = alike.cabling;
        }
        TRY_ASSIGN(UnsolvedGroup unsolved, unsolved_of(links.ids, links.none, asked));
        all_.unsolved.push_back(std::move(unsolved));
        return {};
    }

    /// Returns the refusals of the register if they alone prevent a set-up of these links, because the whole
    /// kit would have one; otherwise nothing.
    Result<std::vector<std::string>> refused_in_the_way(std::vector<std::string> const& ids) const
    {
        std::set<std::string_view> const wanted(ids.begin(), ids.end());
        setup::JobQuestion question{question_.source,
                                    question_.meter,
                                    whole_.kit,
                                    question_.permitted,
                                    question_.cord_check,
                                    question_.either_end,
                                    question_.reference_may_go_on,
                                    {}};
        for (setup::JobLinks const& alike : question_.links) {
            if (!alike.ids.empty() && wanted.contains(alike.ids.front())) question.links.push_back(alike);
        }
        if (question.links.empty()) return std::vector<std::string>{};
        plant::ConnectorEnd const& plug = question.links.front().cabling.first.plug;
        facts::FibreKind const kind = question.links.front().cabling.glass.kind;
        auto const* const source = fitting_instrument(whole_, InstrumentRole::source, plug, kind);
        auto const* const meter = fitting_instrument(whole_, InstrumentRole::meter, plug, kind);
        if (!source || !meter) return std::vector<std::string>{};
        question.source = source->port;
        question.meter = meter->port;
        TRY_ASSIGN(setup::JobPlan const plan, setup::plan_job(question, false));
        if (!plan.unsolved.empty()) return std::vector<std::string>{};
        std::vector<std::string> serials{source->entry.serial, meter->entry.serial};
        for (setup::JobGroup const& group : plan.groups) {
            for (std::string& serial : cord_serials_of(group.question, group.plan)) {
                if (std::find(serials.begin(), serials.end(), serial) == serials.end())
                    serials.push_back(std::move(serial));
            }
        }
        return refusals_of(serials, rulings_);
    }

    JobState const& state_;
    KitFile const& whole_;
    KitRulings const& rulings_;
    KitFile const fit_; ///< the kit without what the register refuses
    SetupRules const rules_;
    bool const alternatives_;
    setup::JobQuestion question_; ///< of the pair of instruments at hand
    JobSetups all_;
};

} // namespace

Result<JobSetups> job_setups(JobState const& state, JobSetupWish const& wish)
{
    if (state.links.empty())
        return Error{Errc::invalid_input, "The job has no links yet: bring in its schedule first."};
    std::vector<std::string> remarks;
    KitFile const whole = wish.kit ? *wish.kit : kit_of_job(state, remarks);
    if (whole.instruments.empty())
        return Error{Errc::invalid_input,
                     "The kit has no source and no meter: add the instruments to the kit first."};
    KitRulings const rulings = wish.today ? kit_rulings(whole, &state, *wish.today) : KitRulings{};
    for (auto const& [serial, ruling] : rulings) {
        // The text of a refusal names the item.
        for (std::string const& refused : ruling.refused)
            remarks.push_back("Not planned with, the register refuses it: " + refused);
    }
    TRY_ASSIGN(auto permitted,
               arrangements_of(wish.methods.empty()
                                   ? std::vector<std::string>{setup::name_of(state.settings.method)}
                                   : wish.methods));
    return JobPlanner{state, wish, whole, rulings}.plan(std::move(permitted), std::move(remarks));
}

} // namespace guidepin::job
