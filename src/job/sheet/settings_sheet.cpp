// SPDX-License-Identifier: Apache-2.0
// The job sheet: TOML that a test lead writes once per contract.
#include "job/sheet/settings.hpp"
#include "job/sheet/sheet_reader.hpp"

#include <algorithm>
#include <cstdint>
#include <map>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

Result<setup::ReferenceMethod> method_from(std::string const& text)
{
    auto const method = setup::parse_reference_method(text);
    if (!method) return Error{Errc::invalid_input, "one-cord, two-cord or three-cord"};
    return *method;
}

Result<std::int16_t> zone_from(std::string const& text)
{
    auto const instant = parse_instant("2000-01-01T00:00" + text);
    if (!instant) return Error{Errc::invalid_input, "an offset from UTC such as \"+01:00\" or \"Z\""};
    return instant->offset_minutes;
}

Instrument read_instrument(SheetReader& reader)
{
    Instrument instrument;
    reader.text("id", instrument.id);
    reader.chosen("role", instrument.role, {"source", "meter"}, parse_instrument_role);
    reader.text("description", instrument.description);
    reader.text("family", instrument.family, {"mpo-12", "mpo-16", "mpo-24", "mpo-32"});
    reader.parsed("pins", instrument.pins, [](std::string const& t) { return plant::parse_pins(t); });
    reader.parsed("face", instrument.face, [](std::string const& t) { return plant::parse_face(t); });
    instrument.ends_stated = reader.has_any({"family", "pins", "face"});
    reader.date("calibrated", instrument.calibrated);
    reader.date("calibration-due", instrument.calibration_due);
    // ISO dates are in the order of their letters.
    if (!instrument.calibrated.empty() && !instrument.calibration_due.empty() &&
        instrument.calibration_due < instrument.calibrated)
        reader.fault(
            fmt::format("calibration-due {} lies before calibrated {}; correct one of the two from the "
                        "certificate",
                        instrument.calibration_due, instrument.calibrated));
    reader.finish();
    return instrument;
}

Cord read_cord(SheetReader& reader)
{
    Cord cord;
    reader.text("id", cord.id);
    reader.chosen("role", cord.role, {"launch", "tail", "substitution", "changer"}, setup::parse_role);
    reader.text("type", cord.type);
    reader.text("family", cord.family, {"mpo-12", "mpo-16", "mpo-24", "mpo-32"});
    reader.lengths("length", cord.length, 100);
    reader.grade("grade", cord.grade);
    reader.parsed("pins-near", cord.pins_near, [](std::string const& t) { return plant::parse_pins(t); });
    reader.parsed("pins-far", cord.pins_far, [](std::string const& t) { return plant::parse_pins(t); });
    reader.parsed("face", cord.face, [](std::string const& t) { return plant::parse_face(t); });
    cord.ends_stated = reader.has_any({"family", "pins-near", "pins-far", "face"});
    reader.truth("exchangeable-pins", cord.exchangeable_pins);
    reader.whole("matings-limit", cord.matings_limit, 0, 1'000'000);
    reader.whole("pin-changes-limit", cord.pin_changes_limit, 0, 1'000'000);
    reader.finish();
    return cord;
}

void read_rules(SheetReader& reader, Settings& settings)
{
    reader.text("rule-set", settings.rule_set);
    reader.text("rule-file", settings.rule_file_name);
    reader.text("overrides-file", settings.overrides_file_name);
    reader.truth("require-length", settings.require_length);
    reader.truth("require-polarity", settings.require_polarity);
    reader.parsed("method", settings.method, method_from);
    reader.grade("cord-grade", settings.cord_grade);
    reader.chosen("decision", settings.decision_rule,
                  {"simple-acceptance", "guarded-acceptance", "guarded-rejection"},
                  verdict::parse_decision_rule);
    reader.number("guard-probability", settings.guard_probability, 0.5, 0.9999);
    reader.whole("directions", settings.directions, 1, 2);
    reader.truth("used-positions-only", settings.used_positions_only);
    reader.number("length-tolerance-fraction", settings.length_tolerance_fraction, 0, 1);
    reader.lengths("length-tolerance", settings.length_tolerance, 1000);
    reader.number("reference-age-hours", settings.reference_age_hours, 0.1, 1000);
    reader.truth("measured-as-channel", settings.single_channel);
    for (auto const kind : {facts::FibreKind::multimode, facts::FibreKind::single_mode}) {
        std::string const key = fmt::format("wavelengths-{}", facts::name_of(kind));
        if (auto wavelengths = reader.wavelengths(key)) settings.wavelengths[kind] = std::move(*wavelengths);
    }
    reader.finish();
}

/// Refuses two things with one id: a name would mean both.
class Ids
{
  public:
    void add(SheetReader& reader, std::string const& id)
    {
        auto const [place, is_new] = lines_.try_emplace(id, reader.line());
        if (id.empty() || is_new) return;
        reader.fault(fmt::format("the id \"{}\" is at line {} already; give each thing of the kit its own, "
                                 "source and meter of one unit too",
                                 id, place->second));
    }

  private:
    std::map<std::string, int> lines_;
};

} // namespace

char const* name_of(InstrumentRole role)
{
    return role == InstrumentRole::meter ? "meter" : "source";
}

std::optional<InstrumentRole> parse_instrument_role(std::string_view text)
{
    if (text == "source") return InstrumentRole::source;
    if (text == "meter") return InstrumentRole::meter;
    return std::nullopt;
}

std::string grade_fault(facts::RuleSet const& rules, facts::CordGrade grade)
{
    auto const has = [](facts::RuleSet const& set, facts::CordGrade wanted) {
        return std::any_of(set.end_connection.begin(), set.end_connection.end(),
                           [&](auto const& entry) { return entry.first.first == wanted; });
    };
    if (has(rules, grade)) return {};
    std::vector<std::string> grades, others;
    for (auto const each : {facts::CordGrade::reference, facts::CordGrade::standard}) {
        if (has(rules, each)) grades.push_back(fmt::format("cord-grade = \"{}\"", facts::name_of(each)));
    }
    for (facts::RuleSet const& set : facts::built_in_tables().rule_sets) {
        if (has(set, grade)) others.push_back(set.id);
    }
    return fmt::format("rule set {} has no value for {}-grade cords; write {} or another rule set ({})",
                       rules.id, facts::name_of(grade),
                       grades.empty() ? std::string{"a rule-file that has one"} : joined(grades, ", "),
                       joined(others, ", "));
}

namespace {

/// Reads a job sheet section by section and gathers everything that is wrong.
class JobSheet
{
  public:
    JobSheet(toml::table const& root, std::string const& name)
        : root_(root)
        , name_(name)
    {
    }

    Result<Settings> read()
    {
        read_job();
        read_rules_section();
        read_writing();
        read_kit();
        refuse_other_sections();
        require_ids_and_roles("instrument", settings_.instruments);
        require_ids_and_roles("cord", settings_.cords);
        if (!problems_.empty()) return Error{Errc::invalid_input, joined(problems_, "\n")};
        return std::move(settings_);
    }

  private:
    toml::table const& section(char const* key) const
    {
        static toml::table const none;
        auto const* const table = root_[key].as_table();
        return table ? *table : none;
    }
    SheetReader reader_of(char const* key) { return {section(key), key, name_, problems_}; }

    void read_job()
    {
        SheetReader reader = reader_of("job");
        reader.text("title", settings_.title);
        reader.text("client", settings_.client);
        reader.text("site", settings_.site);
        reader.text("contractor", settings_.contractor);
        reader.text("contract", settings_.contract);
        reader.finish();
    }

    void read_rules_section()
    {
        SheetReader reader = reader_of("rules");
        read_rules(reader, settings_);
        // Only the reader of a rule file knows what it holds.
        auto const rules = facts::built_in_tables().rule_set(settings_.rule_set);
        if (!rules || !settings_.rule_file_name.empty()) return;
        std::string const fault = grade_fault(**rules, settings_.cord_grade);
        if (fault.empty()) return;
        toml::table const& table = section("rules");
        auto const* const at = table.get(table.contains("cord-grade") ? "cord-grade" : "rule-set");
        problems_.push_back(
            fmt::format("{} line {}: rules: {}", name_, at ? at->source().begin.line : 1u, fault));
    }

    void read_writing()
    {
        SheetReader reader = reader_of("writing");
        reader.text("decimal", settings_.decimal, {".", ","});
        reader.text("length-unit", settings_.length_unit, {"m", "ft"});
        reader.text("dates", settings_.date_order, {"iso", "dmy", "mdy"});
        reader.text("paper", settings_.paper, {"a4", "letter"});
        reader.parsed("zone", settings_.zone_offset_minutes, zone_from);
        reader.finish();
    }

    void read_kit()
    {
        Ids ids;
        each_table(root_, "instrument", name_, problems_, [&](SheetReader& reader) {
            settings_.instruments.push_back(read_instrument(reader));
            ids.add(reader, settings_.instruments.back().id);
        });
        each_table(root_, "cord", name_, problems_, [&](SheetReader& reader) {
            settings_.cords.push_back(read_cord(reader));
            ids.add(reader, settings_.cords.back().id);
        });
        each_table(root_, "uncertainty", name_, problems_, [&](SheetReader& reader) {
            verdict::UncertaintyEdit contribution;
            reader.text("id", contribution.id);
            reader.number("value", contribution.value, 0, 10);
            reader.finish();
            settings_.uncertainty.push_back(contribution);
        });
    }

    void refuse_other_sections()
    {
        std::vector<std::string> const sections{"job",        "rules", "writing",
                                                "instrument", "cord",  "uncertainty"};
        for (auto const& [key, node] : root_) {
            std::string const name(key.str());
            std::size_t const line = node.source().begin.line;
            if (std::find(sections.begin(), sections.end(), name) == sections.end()) {
                problems_.push_back(fmt::format("{} line {}: there is no section \"{}\"; sections are {}",
                                                name_, line, name, joined(sections, ", ")));
            } else if (!node.is_table() && (name == "job" || name == "rules" || name == "writing")) {
                problems_.push_back(
                    fmt::format("{} line {}: write {} as a section, [{}]", name_, line, name, name));
            }
        }
    }

    template <class Item>
    void require_ids_and_roles(char const* what, std::vector<Item> const& items)
    {
        for (std::size_t i = 0; i < items.size(); ++i) {
            if (items[i].id.empty() || !items[i].role)
                problems_.push_back(fmt::format("{}: {} {}: id and role must be given", name_, what, i + 1));
        }
    }

    toml::table const& root_;
    std::string const& name_;
    Settings settings_;
    std::vector<std::string> problems_;
};

} // namespace

Result<Settings> settings_from_sheet(facts::NamedText const& sheet)
{
    TRY_ASSIGN(toml::table const root, parse_sheet(sheet));
    return JobSheet(root, sheet.name).read();
}

} // namespace guidepin::job
