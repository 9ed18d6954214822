// SPDX-License-Identifier: Apache-2.0
// What a link may lose, with its arithmetic.
#include "loss/limit.hpp"

#include "base/rounding.hpp"
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"

#include <array>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;

constexpr std::string_view way_out =
    "give your own value in a rule set: --rule-file FILE (docs/formats/rule-set.md)";

struct Question
{
    loss::LimitQuestion asked;
    facts::RuleSet own; ///< of --rule-file; `asked` points at it
};

Outcome read_rules(Arguments const& arguments, World const& world, Question& question)
{
    facts::Tables const& tables = facts::built_in_tables();
    if (arguments.has("--rule-file")) {
        std::string const name = arguments.text("--rule-file");
        TRY_ASSIGN(std::string const text, job::read_file(path_in(world, name)));
        TRY_ASSIGN(question.own, facts::load_rule_set({name, text}, tables));
        if (arguments.has("--rules") && arguments.text("--rules") != question.own.id) {
            return Error{Errc::usage,
                         fmt::format("--rules names \"{}\", but {} contains \"{}\": leave out one of the two",
                                     arguments.text("--rules"), name, question.own.id)};
        }
        question.asked.rules = &question.own;
        return {};
    }
    std::vector<std::string> ids;
    for (facts::RuleSet const& rules : tables.rule_sets) ids.push_back(rules.id);
    if (!arguments.has("--rules")) {
        return Error{Errc::usage, fmt::format("--rules ID or --rule-file FILE is missing. Rule sets: {}",
                                              joined(ids, ", "))};
    }
    auto const rules = tables.rule_set(arguments.text("--rules"));
    if (!rules) return Error{Errc::usage, "--rules: " + rules.error().message};
    question.asked.rules = *rules;
    return {};
}

Outcome read_question(Arguments const& arguments, World const& world, Question& question)
{
    TRY(read_rules(arguments, world, question));
    auto& asked = question.asked;
    auto const category = facts::built_in_tables().category(arguments.text("--category"));
    if (!category) return Error{Errc::usage, "--category: " + category.error().message};
    asked.category = *category;
    TRY_ASSIGN(int const wavelength, arguments.integer("--wavelength"));
    asked.wavelength = Nanometres{wavelength};
    auto const length = parse_length(arguments.text("--length"));
    if (!length)
        return Error{Errc::usage,
                     fmt::format("--length: \"{}\" is not a length; write 100, \"100 m\" or \"328 ft\"",
                                 arguments.text("--length"))};
    asked.length = *length;
    TRY_ASSIGN(asked.ends, arguments.integer("--ends"));
    TRY_ASSIGN(asked.inner, arguments.integer("--inner"));
    TRY_ASSIGN(asked.splices, arguments.integer("--splices"));
    asked.method = *setup::parse_reference_method(arguments.text("--method")); // one of its choices
    asked.cords = *facts::parse_cord_grade(arguments.text("--cords"));
    return {};
}

Json answer_json(loss::LimitQuestion const& asked, loss::Limit const& limit)
{
    Json lines = Json::array();
    for (loss::LimitLine const& line : limit.lines) {
        bool const memory = line.basis == facts::Basis::memory;
        lines.push_back({{"what", line.what},
                         {"count", line.count},
                         {"each", line.each},
                         {"unit", line.unit},
                         {"loss_db", rounded_to(line.loss.value(), 6)},
                         {"fact", line.fact},
                         {"source",
                          {{"document", line.source.document},
                           {"edition", line.source.edition},
                           {"clause", line.source.clause}}},
                         {"basis", facts::name_of(line.basis)},
                         {"note", line.note},
                         {"override", memory ? Json(std::string(way_out)) : Json(nullptr)}});
    }
    return {{"rule_set", asked.rules->id},
            {"category", asked.category->id},
            {"wavelength_nm", asked.wavelength.value()},
            {"length_m", asked.length.value()},
            {"ends", asked.ends},
            {"method", setup::name_of(asked.method)},
            {"cords", facts::name_of(asked.cords)},
            {"inner", asked.inner},
            {"splices", asked.splices},
            {"limit_db", rounded_to(limit.total.value(), 6)},
            {"rests_on_memory", limit.rests_on_memory},
            {"tables", facts::built_in_tables().version},
            {"lines", lines}};
}

Result<int> run_limit(Arguments const& arguments, World& world)
{
    Question question;
    TRY(read_question(arguments, world, question));
    auto const& asked = question.asked;
    TRY_ASSIGN(loss::Limit const limit, loss::limit(asked));
    if (world.json) {
        world.out += answer_json(asked, limit).dump(2, ' ', false, damaged_text) + "\n";
        return 0;
    }
    world.out += fmt::format("{}: {} at {} nm, {} m, {}, {}-grade test cords\n\n", asked.rules->title,
                             asked.category->id, asked.wavelength.value(), number_text(asked.length.value()),
                             setup::name_of(asked.method), facts::name_of(asked.cords));
    Table table({{"what", Align::left},
                 {"count", Align::right},
                 {"each", Align::right},
                 {"", Align::left},
                 {"dB", Align::right},
                 {"source", Align::left},
                 {"basis", Align::left}});
    for (loss::LimitLine const& line : limit.lines) {
        bool const cable = line.unit == "dB/km";
        std::string const basis =
            std::string(facts::name_of(line.basis)) + (line.basis == facts::Basis::memory ? " *" : "");
        table.add({line.what, cable ? number_text(line.count) + " km" : number_text(line.count),
                   number_text(line.each), line.unit, fixed_text(line.loss.value(), 3), line.source.text(),
                   basis});
    }
    table.add({"limit", "", "", "", fixed_text(limit.total.value(), 3), "", ""});
    world.out += table.text();
    if (limit.rests_on_memory) {
        world.out += fmt::format("\n* from memory, not confirmed against a printed copy; {}\n", way_out);
        for (loss::LimitLine const& line : limit.lines) {
            if (line.basis == facts::Basis::memory)
                world.out += fmt::format("  {}{}\n", line.fact, line.note.empty() ? "" : ": " + line.note);
        }
    }
    return 0;
}

constexpr std::array limit_options{
    Option{"--rules", "ID", "the rule set: tia-568.3-e, … (\"guidepin facts end-connection\" shows them)"},
    Option{"--rule-file", "FILE", "your own rule set instead (docs/formats/rule-set.md)"},
    Option{"--category", "OM4", "category of the cabled fibre", true},
    Option{"--wavelength", "NM", "wavelength in nm", true},
    Option{"--length", "L", "length under test: 100, \"100 m\", \"328 ft\"", true},
    Option{"--ends", "N", "connections to the test cords during the test", false, false, "2"},
    Option{"--method", "M", "reference method, named by the number of cords in the reference", false, false,
           "one-cord", "one-cord,two-cord,three-cord"},
    Option{"--cords", "GRADE", "grade of the test cords", false, false, "reference", "reference,standard"},
    Option{"--inner", "N", "connections inside the link", false, false, "0"},
    Option{"--splices", "N", "splices inside the link", false, false, "0"},
};

} // namespace

Command const limit_command{
    "limit",
    "Compute the attenuation limit of a link, line by line",
    "Prints the attenuation limit of one link, one line for each contribution: what, how many, how much "
    "each, and the source document. It subtracts the joints that the reference contained.",
    "limit --rules tia-568.3-e --category OM4 --wavelength 850 --length 100",
    limit_options,
    &run_limit};

} // namespace guidepin::cli
