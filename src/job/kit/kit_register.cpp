// SPDX-License-Identifier: Apache-2.0
#include "job/kit/kit_register.hpp"

#include "base/text.hpp"
#include "verdict/readings.hpp"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr int near_end = 0, far_end = 1;
/// How the text of setup::check_fitness ends; where a set-up is asked for, a better way out is told.
constexpr std::string_view general_way_out = " Use another, or override with a reason.";
constexpr std::string_view pins_way_out = " Override with a reason where it is certain.";
constexpr int pins_of_a_plug = 2; ///< IEC 61754-7: two guide holes, whatever the number of fibres

plant::Family family_of(std::string const& name)
{
    auto const family = plant::parse_family(name);
    return family ? *family : plant::Family{};
}

KitItem item_of_sheet(Instrument const& instrument)
{
    KitItem item;
    item.serial = instrument.id;
    item.sort = instrument.role == "meter" ? KitSort::meter : KitSort::source;
    item.name = instrument.description;
    item.port = setup::port_of(family_of(instrument.family), instrument.pins, instrument.face);
    if (auto const day = parse_day(instrument.calibrated)) item.calibrated = *day;
    if (auto const day = parse_day(instrument.calibration_due)) item.calibration_due = *day;
    return item;
}

KitItem item_of_sheet(Cord const& cord)
{
    KitItem item;
    item.serial = cord.id;
    item.sort = KitSort::cord;
    item.cord = setup::cord_of(cord.id, family_of(cord.family), {cord.pins_near, cord.exchangeable_pins},
                               {cord.pins_far, cord.exchangeable_pins}, cord.face);
    item.cord.type = cord.type;
    item.cord.grade = cord.grade;
    item.cord.length = cord.length;
    item.cord.glass.core_um = 0;
    // A job sheet does not say the fibre of a cord: angled faces are single-mode by habit (common practice).
    if (cord.face == plant::Face::angled) item.cord.glass.kind = facts::FibreKind::single_mode;
    if (auto const role = setup::parse_role(cord.role)) item.cord.roles = setup::Roles::only({*role});
    if (cord.matings_limit > 0) item.matings_limit = cord.matings_limit;
    if (cord.pin_changes_limit > 0) item.pin_changes_limit = cord.pin_changes_limit;
    return item;
}

/// Every word on every item: of the job sheet, then of the records.
struct Words
{
    std::vector<std::string> order; ///< serials as they came
    std::map<std::string, std::vector<KitItem>, std::less<>> of;
    std::set<std::string, std::less<>> registered;

    explicit Words(JobState const& state)
    {
        for (Instrument const& instrument : state.settings.instruments) add(item_of_sheet(instrument));
        for (Cord const& cord : state.settings.cords) add(item_of_sheet(cord));
        for (KitItem const& item : state.kit.items) {
            registered.insert(item.serial);
            add(item);
        }
    }
    /// From which moment on the records count for its wear.
    std::int64_t counts_from(std::string const& serial) const
    {
        std::int64_t from = INT64_MIN;
        auto const words = of.find(serial);
        if (words == of.end()) return from;
        for (KitItem const& word : words->second) {
            if (word.counts_anew) from = word.at.ms;
        }
        return from;
    }

  private:
    void add(KitItem item)
    {
        if (!of.contains(item.serial)) order.push_back(item.serial);
        of[item.serial].push_back(std::move(item));
    }
};

class Matings
{
  public:
    explicit Matings(Words const& words)
        : words_(words)
    {
    }
    void mate(std::string const& serial, int end, Instant const& at)
    {
        if (serial.empty()) return;
        auto [known, is_new] = from_.try_emplace(serial, 0);
        if (is_new) known->second = words_.counts_from(serial);
        if (at.ms >= known->second) ++counts[{serial, end}];
    }
    void reference(TestKit const& kit, std::string const& method, Instant const& at)
    {
        mate(kit.source, near_end, at);
        mate(kit.meter, near_end, at);
        mate(kit.launch, near_end, at);
        mate(kit.launch, far_end, at);
        auto const by = setup::parse_reference_method(method);
        if (!by || *by == setup::ReferenceMethod::one_cord) return;
        mate(kit.tail, far_end, at);
        mate(kit.tail, near_end, at);
        if (*by != setup::ReferenceMethod::three_cord) return;
        mate(kit.substitution, near_end, at);
        mate(kit.substitution, far_end, at);
    }
    void check(TestKit const& kit, std::string const& method, Instant const& at)
    {
        auto const by = setup::parse_reference_method(method);
        mate(kit.launch, far_end, at);
        if (by == setup::ReferenceMethod::three_cord) return mate(kit.substitution, near_end, at);
        mate(kit.tail, far_end, at);
        if (by == setup::ReferenceMethod::two_cord) return;
        // One cord: the launch cord left the meter, the tail cord enters it; a known cord between the two
        // is mated at both ends.
        mate(kit.meter, near_end, at);
        mate(kit.tail, near_end, at);
        mate(kit.substitution, near_end, at);
        mate(kit.substitution, far_end, at);
    }

    EndCounts counts;

  private:
    Words const& words_;
    std::map<std::string, std::int64_t, std::less<>> from_;
};

/// Every launch of the job's readings: each reference and launch end in a link-tested record is one mating of
/// the two ends that face the cabling. A job has tens of thousands of them under a handful of references.
class Launches
{
  public:
    explicit Launches(JobState const& state)
        : state_(state)
    {
        for (std::uint32_t i = 0; i < state.readings.references.size(); ++i) {
            auto const found = state.reference_index.find(state.readings.references.text(i));
            kits_.push_back(found == state.reference_index.end() ? nullptr
                                                                 : &state.references[found->second].kit);
        }
    }
    /// By the number that the readings have for a reference; null where the job has no such reference.
    std::vector<TestKit const*> const& kits() const { return kits_; }

    /// `tell(reference, link, moment in ms)`, for references with a kit.
    template <class Tell>
    void each(Tell const& tell) const
    {
        verdict::ReadingColumns const& rows = state_.readings;
        std::vector<Launch> launches;
        for (TestEntry const& test : state_.tests) {
            launches.clear();
            for (std::uint32_t row = test.first_row; row < test.first_row + test.rows; ++row) {
                std::uint32_t const reference = rows.reference[row];
                if (reference == verdict::Dictionary::missing) continue;
                verdict::LaunchEnd const end = rows.launch_end[row];
                auto const same = [&](Launch const& l) { return l.reference == reference && l.end == end; };
                if (!launches.empty() && same(launches.back())) continue;
                if (std::any_of(launches.begin(), launches.end(), same)) continue;
                std::int64_t const ms = rows.taken_ms[row];
                launches.push_back(
                    {reference, end, ms == verdict::ReadingColumns::no_time ? test.recorded.ms : ms});
            }
            for (Launch const& launch : launches) {
                if (kits_[launch.reference]) tell(launch.reference, rows.link[test.first_row], launch.ms);
            }
        }
    }

  private:
    struct Launch
    {
        std::uint32_t reference;
        verdict::LaunchEnd end;
        std::int64_t ms;
    };
    JobState const& state_;
    std::vector<TestKit const*> kits_;
};

/// The most recent calibration that had been made by that day: one that was made later says nothing of
/// before. A later word on the same one corrects it, and a registered item is no longer what the job sheet
/// said.
Calibration calibration_on(Words const& words, std::string_view serial, setup::Day on)
{
    Calibration found;
    bool any = false;
    bool const registered = words.registered.contains(serial);
    for (KitItem const& word : words.of.find(serial)->second) {
        bool const of_sheet = word.at.ms == 0 && word.person.empty();
        if (registered && of_sheet) continue;
        if (word.calibrated && *word.calibrated > on) {
            if (!any) found = {word.calibrated, word.calibration_due, true};
            continue;
        }
        if (any && word.calibrated < found.made) continue; // none given is before any
        found = {word.calibrated, word.calibration_due, false};
        any = true;
    }
    return found;
}

setup::RegisterLimits limits_of(KitStanding const& standing, setup::RegisterLimits limits)
{
    limits.matings = standing.matings_limit;
    limits.pin_changes = standing.pin_changes_limit;
    return limits;
}

FaceStanding face_standing(JobState const& state, FaceInspected const& inspected)
{
    FaceStanding standing;
    standing.at = inspected.at;
    standing.person = inspected.person;
    standing.type = inspected.seen.type;
    standing.edition = inspected.edition;
    auto const verdict =
        setup::judge_end_face(inspected.seen, state.tables.end_face_zones, inspected.edition);
    if (!verdict) {
        standing.breaches.push_back(verdict.error().message);
        return standing;
    }
    standing.pass = verdict->pass && !inspected.seen.loose_debris;
    for (auto const& breach : verdict->breaches)
        standing.breaches.push_back(
            fmt::format("position {}, zone {}: {}", breach.position, breach.zone, breach.what));
    standing.note = verdict->note;
    return standing;
}

void read_ends(JobState const& state, EndCounts const& matings, std::int64_t from, KitStanding& standing)
{
    KitItem const& item = standing.item;
    for (EndStanding& end : standing.ends) {
        auto const counted = matings.find(std::pair{item.serial, end.end});
        end.matings = item.matings_before + (counted == matings.end() ? 0 : counted->second);
        end.pin_changes = item.pin_changes_before;
        std::optional<Instant> changed;
        for (PinsChanged const& change : state.kit.pin_changes) {
            if (change.item != item.serial || change.end != end.end) continue;
            // What the item's latest word says of its pins stands until a later change.
            if (!(change.at < item.at)) end.pins = change.to;
            if (change.at.ms < from) continue;
            end.pins_counted = change.pins_counted;
            if (change.from == change.to) continue;
            changed = change.at;
            ++end.pin_changes;
        }
        for (FaceInspected const& inspected : state.kit.inspections) {
            if (inspected.seen.item != item.serial || inspected.seen.end != end.end || inspected.at.ms < from)
                continue;
            end.face = face_standing(state, inspected);
            end.face->outdated = changed && inspected.at < *changed;
        }
        standing.matings = std::max(standing.matings, end.matings);
        standing.pin_changes = std::max(standing.pin_changes, end.pin_changes);
    }
}

setup::ItemHistory history_of(KitStanding const& standing)
{
    setup::ItemHistory history;
    history.serial = standing.item.serial;
    history.matings = standing.matings;
    history.pin_changes = standing.pin_changes;
    bool all = !standing.ends.empty(), any_bad = false;
    for (EndStanding const& end : standing.ends) {
        bool const counts = end.face && !end.face->outdated;
        all = all && counts && end.face->pass;
        any_bad = any_bad || (counts && !end.face->pass);
    }
    if (any_bad) {
        history.end_faces_pass = false;
    } else if (all) {
        history.end_faces_pass = true;
    }
    return history;
}

/// Decisions on this item that nothing later has overtaken.
std::vector<KitOverride> overrides_in_force(JobState const& state, KitStanding const& standing,
                                            std::vector<KitOverride> const& more)
{
    std::vector<KitOverride> in_force;
    auto const take = [&](KitOverride const& decision, bool fresh) {
        if (decision.item != standing.item.serial) return;
        KitOverride kept = decision;
        std::erase_if(kept.about, [&](std::string const& about) {
            if (fresh) return false;
            // A word on the item, or a later look at its ends, is new evidence: decide anew.
            if (about == "calibration") return kept.at < standing.item.at;
            bool later = false;
            for (EndStanding const& end : standing.ends)
                later = later || (about == "end-face" && end.face && kept.at < end.face->at);
            for (PinsChanged const& change : state.kit.pin_changes)
                later = later || (about == "pins" && change.item == kept.item && kept.at < change.at);
            return later;
        });
        if (!kept.about.empty()) in_force.push_back(std::move(kept));
    };
    for (KitOverride const& decision : state.kit.overrides) take(decision, false);
    for (KitOverride const& decision : more) take(decision, true);
    return in_force;
}

/// What the rules of the set-up room do not know: pins counted, faces older than a pin change, items that
/// left the kit.
void own_findings(KitStanding& standing)
{
    std::string const& serial = standing.item.serial;
    auto const refuse = [&](char const* about, std::string text) {
        for (KitOverride const& decision : standing.overrides) {
            if (std::find(decision.about.begin(), decision.about.end(), about) == decision.about.end())
                continue;
            standing.findings.push_back({serial, setup::Fitness::overridden, std::move(text),
                                         fmt::format("{}: {}", decision.person, decision.reason), about});
            return;
        }
        text += pins_way_out;
        standing.findings.push_back({serial, setup::Fitness::refused, std::move(text), "", about});
    };
    for (EndStanding const& end : standing.ends) {
        if (end.pins_counted && *end.pins_counted != pins_of_a_plug)
            refuse("pins",
                   fmt::format("{}: {} pin{} counted after the last change at the {} end, {} belong to a "
                               "plug: a loose pin damages what is mated next. Find it, then count again.",
                               serial, *end.pins_counted, *end.pins_counted == 1 ? "" : "s",
                               end_name(end.end), pins_of_a_plug));
        if (end.face && end.face->outdated)
            standing.findings.push_back(
                {serial, setup::Fitness::warned,
                 fmt::format(
                     "{}: the pins at the {} end were changed after its last inspection. Inspect it again.",
                     serial, end_name(end.end)),
                 "", "end-face"});
    }
}

void judge_fitness(JobState const& state, setup::RegisterLimits const& limits, setup::Day today,
                   std::vector<KitOverride> const& decisions, int wear, KitStanding& standing)
{
    KitItem const& item = standing.item;
    standing.overrides = overrides_in_force(state, standing, decisions);
    std::vector<setup::Instrument> instruments;
    if (item.is_instrument()) {
        setup::Instrument instrument;
        instrument.serial = item.serial;
        instrument.name = name_of(item.sort);
        instrument.calibrated = item.calibrated;
        instrument.calibration_due = item.calibration_due;
        // A job sheet may leave the date out: the reference says so by a remark.
        if (standing.registered || item.calibration_due) {
            instruments.push_back(std::move(instrument));
        } else {
            standing.findings.push_back(
                {item.serial, setup::Fitness::warned,
                 fmt::format("{} {}: the job sheet does not say until when it is calibrated. Enter the date.",
                             name_of(item.sort), item.serial),
                 "", "calibration"});
        }
    }
    std::vector<setup::Override> overrides;
    for (KitOverride const& decision : standing.overrides)
        overrides.push_back({decision.item, decision.person, decision.reason, decision.about});
    std::vector<setup::ItemHistory> items;
    if (!standing.ends.empty()) {
        items.push_back(history_of(standing));
        items.back().matings += wear;
    }
    setup::RegisterLimits own = limits_of(standing, limits);
    if (item.is_instrument()) own.end_faces_required = false; // its port is looked at where it can be
    auto found = setup::check_fitness(instruments, items, own, today, overrides);
    std::move(found.begin(), found.end(), std::back_inserter(standing.findings));
    own_findings(standing);
    for (setup::FitnessFinding const& finding : standing.findings) {
        // Refused is worst, then overridden: somebody has to answer for it.
        auto const weight = [](setup::Fitness fitness) {
            return fitness == setup::Fitness::refused      ? 3
                   : fitness == setup::Fitness::overridden ? 2
                   : fitness == setup::Fitness::warned     ? 1
                                                           : 0;
        };
        if (weight(finding.fitness) > weight(standing.fitness)) standing.fitness = finding.fitness;
    }
}

KitStanding standing_of(JobState const& state, Words const& words, EndCounts const& matings,
                        setup::RegisterLimits const& limits, setup::Day today, std::string const& serial)
{
    KitStanding standing;
    standing.item = words.of.at(serial).back();
    standing.registered = words.registered.contains(serial);
    if (standing.item.is_instrument()) {
        Calibration const found = calibration_on(words, serial, today);
        standing.item.calibrated = found.made;
        standing.item.calibration_due = found.due;
    }
    KitItem const& item = standing.item;
    if (item.sort == KitSort::cord) {
        for (int end = 0; end < 2; ++end) {
            EndStanding row;
            row.end = end;
            setup::CordEnd const& plug = item.cord.ends[static_cast<std::size_t>(end)];
            if (plug.plug.family.key != plant::Family::Key::duplex) row.pins = plug.plug.pins;
            row.exchangeable = plug.pins_exchangeable;
            standing.ends.push_back(std::move(row));
        }
    } else if (item.is_instrument()) {
        EndStanding row;
        if (item.port.face.family.key != plant::Family::Key::duplex) row.pins = item.port.face.pins;
        standing.ends.push_back(std::move(row));
    }
    // Limits of the register are for cords; an instrument's port has one where its own word says so.
    bool const cord = item.sort == KitSort::cord;
    standing.matings_limit = item.matings_limit ? item.matings_limit
                             : cord             ? limits.matings
                                                : std::optional<int>{};
    standing.pin_changes_limit = item.pin_changes_limit ? item.pin_changes_limit
                                 : cord                 ? limits.pin_changes
                                                        : std::optional<int>{};
    read_ends(state, matings, words.counts_from(serial), standing);
    return standing;
}

setup::RegisterLimits limits_now(JobState const& state)
{
    return state.kit.limits.empty() ? setup::RegisterLimits{} : state.kit.limits.back().limits;
}

bool names(TestKit const& kit, std::string const& serial)
{
    return kit.source == serial || kit.meter == serial || kit.launch == serial || kit.tail == serial ||
           kit.substitution == serial;
}

std::vector<std::string> serials_of(TestKit const& kit)
{
    std::vector<std::string> serials;
    for (std::string const* serial : {&kit.source, &kit.meter, &kit.launch, &kit.tail, &kit.substitution}) {
        if (!serial->empty() && std::find(serials.begin(), serials.end(), *serial) == serials.end())
            serials.push_back(*serial);
    }
    return serials;
}

/// What ends a refusal, besides using another item.
std::string way_out(std::string const& serial, std::string const& about, bool with_job)
{
    std::string const heal = about == "calibration" ? "bring in its new calibration (kit JOB add KIT.toml)"
                             : about == "end-face"  ? "clean and inspect it (kit JOB inspect)"
                             : about == "pins"      ? "find the pin and count again (kit JOB pin-change)"
                                                    : "give it new plugs (kit JOB renew)";
    if (!with_job) return "Use another, or enter its new calibration in the kit file.";
    return fmt::format("Use another, {}, or override it with a reason (kit JOB override {} --reason TEXT).",
                       heal, serial);
}

void add_rulings(ItemRuling& ruling, std::vector<setup::FitnessFinding> const& findings, bool with_job)
{
    for (setup::FitnessFinding const& finding : findings) {
        if (finding.fitness == setup::Fitness::overridden) {
            ruling.overridden.push_back(
                fmt::format("{} Used by decision of {}", finding.text, finding.override_reason));
            if (ruling.overridden.back().back() != '.') ruling.overridden.back() += '.';
        } else if (finding.fitness == setup::Fitness::refused) {
            std::string text = finding.text;
            // The general way out gives way to the one by name.
            for (std::string_view const general : {general_way_out, pins_way_out}) {
                if (std::string_view(text).ends_with(general)) text.resize(text.size() - general.size());
            }
            ruling.refused.push_back(
                fmt::format("{} {}", text, way_out(finding.serial, finding.about, with_job)));
        }
    }
}

} // namespace

KitRulings kit_rulings(KitFile const& kit, JobState const* state, setup::Day today)
{
    std::optional<Words> words;
    if (state) words.emplace(*state);
    EndCounts const matings = state ? count_matings(*state) : EndCounts{};
    setup::RegisterLimits const limits = state ? limits_now(*state) : setup::RegisterLimits{};
    KitRulings rulings;
    auto const judge = [&](std::string const& serial, KitInstrument const* instrument) {
        ItemRuling ruling;
        std::vector<setup::FitnessFinding> findings;
        std::vector<setup::Override> decisions;
        bool registered = false;
        if (words && words->of.contains(serial)) {
            KitItem const& word = words->of.at(serial).back();
            registered = words->registered.contains(serial);
            if (word.removed) {
                ruling.refused.push_back(fmt::format(
                    "{} left the kit: {}. Use another, or register it again.", serial, word.reason));
                rulings.emplace(serial, std::move(ruling));
                return;
            }
            KitStanding standing = standing_of(*state, *words, matings, limits, today, serial);
            judge_fitness(*state, limits, today, {}, 1, standing);
            findings = std::move(standing.findings);
            for (KitOverride const& each : standing.overrides)
                decisions.push_back({each.item, each.person, each.reason, each.about});
        }
        if (instrument && !registered && instrument->entry.calibration_due) {
            std::erase_if(findings, [](auto const& finding) { return finding.about == "calibration"; });
            setup::Instrument entry = instrument->entry;
            entry.name = name_of(instrument->role);
            auto own = setup::check_fitness({&entry, 1}, {}, limits, today, decisions);
            std::move(own.begin(), own.end(), std::back_inserter(findings));
        }
        add_rulings(ruling, findings, state != nullptr);
        if (!ruling.refused.empty() || !ruling.overridden.empty()) rulings.emplace(serial, std::move(ruling));
    };
    for (KitInstrument const& each : kit.instruments) judge(each.entry.serial, &each);
    for (setup::Cord const& each : kit.kit.cords) judge(each.id, nullptr);
    return rulings;
}

KitFile without_refused(KitFile kit, KitRulings const& rulings)
{
    auto const refused = [&](std::string const& serial) {
        auto const found = rulings.find(serial);
        return found != rulings.end() && !found->second.refused.empty();
    };
    std::erase_if(kit.instruments, [&](KitInstrument const& each) { return refused(each.entry.serial); });
    std::erase_if(kit.kit.cords, [&](setup::Cord const& each) { return refused(each.id); });
    return kit;
}

EndCounts count_matings(JobState const& state)
{
    Words const words(state);
    Matings matings(words);
    for (ReferenceEntry const& reference : state.references)
        matings.reference(reference.kit, reference.method, reference.taken());
    for (CordCheckEntry const& check : state.checks) {
        auto const found = state.reference_index.find(check.reference);
        if (found == state.reference_index.end()) continue;
        ReferenceEntry const& reference = state.references[found->second];
        matings.check(reference.kit, reference.method, check.taken());
    }
    Launches const launches(state);
    struct Mated
    {
        std::int64_t launch_from = 0, tail_from = 0;
        int launch = 0, tail = 0;
    };
    std::vector<Mated> mated(launches.kits().size());
    for (std::size_t i = 0; i < mated.size(); ++i) {
        if (TestKit const* const kit = launches.kits()[i])
            mated[i] = {words.counts_from(kit->launch), words.counts_from(kit->tail)};
    }
    launches.each([&](std::uint32_t reference, std::uint32_t, std::int64_t ms) {
        Mated& here = mated[reference];
        here.launch += ms >= here.launch_from ? 1 : 0;
        here.tail += ms >= here.tail_from ? 1 : 0;
    });
    for (std::size_t i = 0; i < mated.size(); ++i) {
        TestKit const* const kit = launches.kits()[i];
        if (!kit) continue;
        if (mated[i].launch > 0 && !kit->launch.empty())
            matings.counts[{kit->launch, far_end}] += mated[i].launch;
        if (mated[i].tail > 0 && !kit->tail.empty()) matings.counts[{kit->tail, far_end}] += mated[i].tail;
    }
    return std::move(matings.counts);
}

KitStanding const* KitRegister::find(std::string_view serial) const
{
    auto const at = std::find_if(items.begin(), items.end(),
                                 [&](KitStanding const& standing) { return standing.item.serial == serial; });
    return at == items.end() ? nullptr : &*at;
}

int KitRegister::count(setup::Fitness fitness) const
{
    return static_cast<int>(std::count_if(items.begin(), items.end(), [&](KitStanding const& standing) {
        return !standing.item.removed && standing.fitness == fitness;
    }));
}

KitRegister kit_register(JobState const& state, setup::Day today)
{
    Words const words(state);
    EndCounts const matings = count_matings(state);
    KitRegister kit;
    kit.limits = limits_now(state);
    kit.today = today;
    Launches const launches(state);
    // Most references are taken with the same items: links are marked once for each set of them.
    std::vector<std::size_t> items_of_reference;
    std::map<std::vector<std::string>, std::size_t> sets;
    for (TestKit const* const used : launches.kits())
        items_of_reference.push_back(
            sets.emplace(used ? serials_of(*used) : std::vector<std::string>{}, sets.size()).first->second);
    std::vector<std::vector<bool>> under(sets.size());
    for (std::vector<bool>& links : under) links.resize(state.readings.links.size());
    launches.each([&](std::uint32_t reference, std::uint32_t link, std::int64_t) {
        under[items_of_reference[reference]][link] = true;
    });
    std::map<std::string, std::vector<bool>, std::less<>> links;
    for (auto const& [serials, at] : sets) {
        for (std::string const& serial : serials) {
            auto const [used, is_first] = links.try_emplace(serial, under[at]);
            if (is_first) continue;
            for (std::size_t link = 0; link < under[at].size(); ++link) {
                if (under[at][link]) used->second[link] = true;
            }
        }
    }
    for (bool const removed : {false, true}) {
        for (std::string const& serial : words.order) {
            if (words.of.at(serial).back().removed != removed) continue;
            KitStanding standing = standing_of(state, words, matings, kit.limits, today, serial);
            for (ReferenceEntry const& reference : state.references)
                standing.references += names(reference.kit, serial) ? 1 : 0;
            if (auto const used = links.find(serial); used != links.end())
                standing.links = static_cast<int>(std::count(used->second.begin(), used->second.end(), true));
            if (!removed) judge_fitness(state, kit.limits, today, {}, 0, standing);
            kit.items.push_back(std::move(standing));
        }
    }
    return kit;
}

Outcome may_be_used(JobState const& state, TestKit const& kit, setup::Day today,
                    std::vector<KitOverride> const& decisions)
{
    Words const words(state);
    EndCounts const matings = count_matings(state);
    setup::RegisterLimits const limits = limits_now(state);
    std::vector<std::string> refusals;
    for (std::string const& serial : serials_of(kit)) {
        auto const word = words.of.find(serial);
        if (word == words.of.end()) continue; // not known: the reference itself says so
        if (word->second.back().removed) {
            refusals.push_back(fmt::format("{} left the kit: {}. Use another, or register it again.", serial,
                                           word->second.back().reason));
            continue;
        }
        KitStanding standing = standing_of(state, words, matings, limits, today, serial);
        judge_fitness(state, limits, today, decisions, 1, standing);
        for (setup::FitnessFinding const& finding : standing.findings) {
            if (finding.fitness != setup::Fitness::refused) continue;
            // Known from the job sheet alone: the reference is kept, and refused with its reason.
            if (finding.about == "calibration" && !standing.registered) continue;
            refusals.push_back(finding.text);
        }
    }
    if (refusals.empty()) return {};
    return Error{Errc::refused, joined(refusals, "\n")};
}

Result<KitOverride> override_now(JobState const& state, std::string const& serial, std::string const& reason,
                                 setup::Day today)
{
    Words const words(state);
    if (!words.of.contains(serial)) {
        auto const near = nearest(serial, words.order);
        return Error{Errc::not_found,
                     fmt::format("The kit has no {}{}", serial,
                                 near.empty() ? "" : "; did you mean " + joined(near, ", ") + "?")};
    }
    KitOverride decision;
    decision.item = serial;
    decision.reason = reason;
    setup::RegisterLimits const limits = limits_now(state);
    KitStanding standing = standing_of(state, words, count_matings(state), limits, today, serial);
    if (standing.item.removed)
        return Error{Errc::invalid_input,
                     fmt::format("{} left the kit; register it again instead of overriding", serial)};
    judge_fitness(state, limits, today, {}, 1, standing);
    std::set<std::string> about;
    for (setup::FitnessFinding const& finding : standing.findings) {
        if (finding.fitness == setup::Fitness::refused) about.insert(finding.about);
    }
    if (about.empty())
        return Error{Errc::invalid_input,
                     fmt::format("{}: nothing is refused of it; there is nothing to override", serial)};
    decision.about.assign(about.begin(), about.end());
    TRY(kit_override_body(decision));
    return decision;
}

std::optional<Calibration> calibration_for(JobState const& state, std::string_view serial, setup::Day on)
{
    Words const words(state);
    if (!words.of.contains(serial)) return std::nullopt;
    return calibration_on(words, serial, on);
}

std::optional<setup::Day> calibrated_until(JobState const& state, std::string_view serial, setup::Day on)
{
    auto const found = calibration_for(state, serial, on);
    if (!found) return std::nullopt;
    if (found->made_later) return setup::Day{on.days - 1}; // what is known began only afterwards
    return found->due;
}

std::string calibration_override(JobState const& state, std::string_view serial, Instant by)
{
    std::string said;
    for (KitOverride const& decision : state.kit.overrides) {
        bool const covers =
            std::find(decision.about.begin(), decision.about.end(), "calibration") != decision.about.end();
        if (covers && decision.item == serial && !(by < decision.at))
            said = fmt::format("{}: {}", decision.person, decision.reason);
    }
    return said;
}

std::vector<setup::FitnessFinding> plan_fitness(JobState const& state, setup::Question const& question,
                                                setup::Plan const& plan, std::string const& source,
                                                std::string const& meter, setup::Day today)
{
    Words const words(state);
    EndCounts const matings = count_matings(state);
    setup::RegisterLimits const limits = limits_now(state);
    std::vector<setup::FitnessFinding> findings;
    auto const judge = [&](std::string const& serial, int wear) {
        if (!words.of.contains(serial)) return;
        KitStanding standing = standing_of(state, words, matings, limits, today, serial);
        judge_fitness(state, limits, today, {}, wear, standing);
        std::move(standing.findings.begin(), standing.findings.end(), std::back_inserter(findings));
    };
    judge(source, 0);
    if (meter != source) judge(meter, 0);
    for (auto const& [serial, wear] : setup::wear_of(question, plan)) judge(serial, wear.matings);
    return findings;
}

KitFile kit_now(JobState const& state)
{
    KitFile file;
    file.limits = state.kit.limits.empty() ? std::optional<setup::RegisterLimits>{} : limits_now(state);
    Words const words(state);
    for (std::string const& serial : words.order) {
        if (!words.registered.contains(serial) || words.of.at(serial).back().removed) continue;
        // Of how it stands, pins alone are asked for: nobody has to count its matings.
        KitStanding const standing = standing_of(state, words, {}, {}, {}, serial);
        KitItem const& item = standing.item;
        switch (item.sort) {
        case KitSort::source:
        case KitSort::meter: {
            KitInstrument instrument;
            instrument.role = item.sort == KitSort::meter ? InstrumentRole::meter : InstrumentRole::source;
            instrument.entry.serial = item.serial;
            instrument.entry.name = item.name;
            instrument.entry.calibrated = item.calibrated;
            instrument.entry.calibration_due = item.calibration_due;
            instrument.port = item.port;
            instrument.wavelengths = item.wavelengths;
            file.instruments.push_back(std::move(instrument));
            break;
        }
        case KitSort::cord: {
            setup::Cord cord = item.cord;
            for (std::size_t end = 0; end < 2; ++end) {
                if (standing.ends[end].pins) cord.ends[end].plug.pins = *standing.ends[end].pins;
            }
            file.kit.cords.push_back(std::move(cord));
            break;
        }
        case KitSort::adapter:
            file.kit.adapters.push_back({item.keys, item.family, item.count});
            break;
        case KitSort::pin_tool:
            file.kit.pin_tools.push_back({item.serial, item.family});
            break;
        }
    }
    return file;
}

std::optional<KitItem> item_at(JobState const& state, std::string_view serial, Instant at)
{
    Words const words(state);
    auto const known = words.of.find(serial);
    if (known == words.of.end()) return std::nullopt;
    KitItem item = known->second.front();
    for (KitItem const& word : known->second) {
        if (!(at < word.at)) item = word;
    }
    if (item.sort != KitSort::cord) return item;
    for (PinsChanged const& change : state.kit.pin_changes) {
        // What a word says of the pins stands until a later change.
        if (change.item != serial || at < change.at || change.at < item.at) continue;
        item.cord.ends[change.end == near_end ? 0 : 1].plug.pins = change.to;
    }
    return item;
}

std::vector<std::string> usable_as(JobState const& state, std::string_view role)
{
    Words const words(state);
    std::vector<std::string> serials;
    for (std::string const& serial : words.order) {
        KitItem const& item = words.of.at(serial).back();
        if (item.removed) continue;
        bool may = item.is_instrument() && role == name_of(item.sort);
        if (item.sort == KitSort::cord) {
            auto const as = setup::parse_role(role);
            may = as && item.cord.roles.may(*as);
            if (as == setup::Role::substitution) may = may || item.cord.roles.may(setup::Role::known);
        }
        if (may) serials.push_back(serial);
    }
    return serials;
}

std::vector<KitItem> items_of(KitFile const& file)
{
    std::vector<KitItem> items;
    for (KitInstrument const& instrument : file.instruments) {
        KitItem item;
        item.serial = instrument.entry.serial;
        item.sort = instrument.role == InstrumentRole::meter ? KitSort::meter : KitSort::source;
        item.name = instrument.entry.name;
        item.port = instrument.port;
        item.wavelengths = instrument.wavelengths;
        item.calibrated = instrument.entry.calibrated;
        item.calibration_due = instrument.entry.calibration_due;
        item.family = instrument.port.face.family.key;
        items.push_back(std::move(item));
    }
    for (setup::Cord const& cord : file.kit.cords) {
        KitItem item;
        item.serial = cord.id;
        item.sort = KitSort::cord;
        item.cord = cord;
        item.family = cord.ends[0].plug.family.key;
        items.push_back(std::move(item));
    }
    for (setup::AdapterStock const& stock : file.kit.adapters) {
        if (stock.count < 1) continue;
        KitItem item;
        item.sort = KitSort::adapter;
        item.keys = stock.keys;
        item.family = stock.family;
        item.count = stock.count;
        // Adapters carry no serial: the stock of one kind is one item.
        item.serial = fmt::format("adapters {} {}", plant::name_of(stock.keys),
                                  stock.family == plant::Family::Key::mpo16 ? "mpo-16" : "mpo-12");
        auto const same = std::find_if(items.begin(), items.end(),
                                       [&](KitItem const& other) { return other.serial == item.serial; });
        if (same != items.end()) {
            same->count += item.count;
        } else {
            items.push_back(std::move(item));
        }
    }
    for (setup::PinTool const& tool : file.kit.pin_tools) {
        KitItem item;
        item.sort = KitSort::pin_tool;
        item.serial = tool.id;
        item.family = tool.family;
        items.push_back(std::move(item));
    }
    return items;
}

std::vector<std::pair<std::string, std::string>> end_face_choices(facts::Tables const& tables)
{
    std::set<std::pair<std::string, std::string>> choices;
    for (facts::EndFaceZone const& zone : tables.end_face_zones) {
        if (zone.arrays) choices.insert({zone.edition, zone.type});
    }
    return {choices.begin(), choices.end()};
}

std::string usual_edition(facts::Tables const& tables, std::string_view type)
{
    std::string latest;
    for (auto const& [edition, of_type] : end_face_choices(tables)) {
        if (of_type == type) latest = edition; // they come in order: "1 (2009)", "2 (2015)"
    }
    return latest;
}

std::string usual_face_type(KitItem const& item, int end)
{
    bool const cord = item.sort == KitSort::cord;
    plant::ConnectorEnd const& plug =
        cord ? item.cord.ends[static_cast<std::size_t>(end == 0 ? 0 : 1)].plug : item.port.face;
    bool single_mode = item.cord.glass.kind == facts::FibreKind::single_mode;
    if (!cord) {
        single_mode = plug.face == plant::Face::angled;
        for (Nanometres const wavelength : item.wavelengths)
            single_mode = single_mode || wavelength.value() >= 1310;
    }
    if (!single_mode) return "multimode-pc";
    return plug.face == plant::Face::angled ? "single-mode-apc" : "single-mode-pc";
}

} // namespace guidepin::job
