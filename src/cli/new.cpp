// SPDX-License-Identifier: Apache-2.0
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/registry.hpp"

#include <array>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

/// The text of a rule set. An empty one would mean "none" later on.
Result<std::string> read_rule_file(World const& world, std::string const& name)
{
    TRY_ASSIGN(std::string text, job::read_file(path_in(world, name)));
    if (text.empty())
        return Error{Errc::invalid_input,
                     fmt::format("{} is empty; it must contain a rule set (docs/formats/rule-set.md)", name)};
    return text;
}

Result<int> run_new(Arguments const& arguments, World& world)
{
    job::Settings settings;
    if (arguments.has("--sheet")) {
        std::string const name = arguments.text("--sheet");
        TRY_ASSIGN(std::string const text, job::read_file(path_in(world, name)));
        TRY_ASSIGN(settings, job::settings_from_sheet({name, text}));
        if (!settings.rule_file_name.empty()) {
            auto const slash = name.find_last_of('/');
            std::string const beside = slash == std::string::npos
                                           ? settings.rule_file_name
                                           : name.substr(0, slash + 1) + settings.rule_file_name;
            TRY_ASSIGN(settings.rule_text, read_rule_file(world, beside));
        }
    }
    if (arguments.has("--overrides")) settings.overrides_file_name = arguments.text("--overrides");
    if (!settings.overrides_file_name.empty()) {
        std::string const sheet = arguments.text("--sheet");
        auto const slash = sheet.find_last_of('/');
        std::string const folder = arguments.has("--overrides") || slash == std::string::npos
                                       ? std::string{}
                                       : sheet.substr(0, slash + 1);
        TRY_ASSIGN(settings.overrides_text,
                   job::read_file(path_in(world, folder + settings.overrides_file_name)));
    }
    if (arguments.has("--title")) settings.title = arguments.text("--title");
    if (arguments.has("--rules")) settings.rule_set = arguments.text("--rules");
    if (arguments.has("--rule-file")) {
        settings.rule_file_name = arguments.text("--rule-file");
        TRY_ASSIGN(settings.rule_text, read_rule_file(world, settings.rule_file_name));
    }
    if (arguments.has("--method"))
        settings.method = setup::parse_reference_method(arguments.text("--method")).value_or(settings.method);
    if (arguments.has("--cords"))
        settings.cord_grade =
            facts::parse_cord_grade(arguments.text("--cords")).value_or(settings.cord_grade);
    if (arguments.has("--decision")) settings.decision_rule = arguments.text("--decision");
    TRY_ASSIGN(facts::Tables const tables, job::tables_of(settings));
    TRY_ASSIGN(facts::RuleSet const rules, job::rule_set_of(settings, tables));
    if (std::string const fault = job::grade_fault(rules, settings.cord_grade); !fault.empty())
        return Error{Errc::invalid_input, fault};
    std::string const path = path_in(world, arguments.text("JOB"));
    TRY(job::Job::create(path, settings, actor_of(arguments, world)));
    if (world.json) {
        nlohmann::ordered_json const json = {{"job", arguments.text("JOB")},
                                             {"title", settings.title},
                                             {"rule_set", rules.id},
                                             {"method", setup::name_of(settings.method)},
                                             {"cord_grade", facts::name_of(settings.cord_grade)},
                                             {"decision_rule", settings.decision_rule}};
        world.out += json.dump(2, ' ', false, damaged_text) + "\n";
    } else {
        world.out += fmt::format("Job {} created: {}\n  rules {} ({}), {} reference, {}-grade cords, {}\n",
                                 arguments.text("JOB"), settings.title.empty() ? "no title" : settings.title,
                                 rules.id, rules.title, setup::name_of(settings.method),
                                 facts::name_of(settings.cord_grade), settings.decision_rule);
    }
    return 0;
}

constexpr std::array new_options{
    job_option,
    Option{"--sheet", "FILE", "the job sheet (docs/formats/job-sheet.md): client, rules, instruments, cords"},
    Option{"--title", "TEXT", "the name of the job"},
    Option{"--rules", "ID", "rule set (\"guidepin facts rules\" lists them)"},
    Option{"--rule-file", "FILE", "the contract's own rule set (docs/formats/rule-set.md)"},
    Option{"--overrides", "FILE",
           "your own values for facts, by the ids that \"guidepin facts\" shows (docs/formats/rule-set.md)"},
    Option{"--method", "M", "reference method", false, false, {}, "one-cord,two-cord,three-cord"},
    Option{"--cords", "GRADE", "grade of the test cords", false, false, {}, "reference,standard"},
    Option{"--decision",
           "RULE",
           "decision rule of JCGM 106:2012",
           false,
           false,
           {},
           "simple-acceptance,guarded-acceptance,guarded-rejection"},
    operator_option,
    key_option,
};

} // namespace

Command const new_command{"new",
                          "Create a new job",
                          "Creates a job file: one file for everything that is promised, done and measured. "
                          "Its records can only be added to, never changed.",
                          "new hall.guidepin --title \"Hall 2\" --rules tia-568.3-e",
                          new_options,
                          &run_new};

} // namespace guidepin::cli
