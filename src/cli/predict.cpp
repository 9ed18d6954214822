// SPDX-License-Identifier: Apache-2.0
// What a link should lose, the chance that it passes, and what still fits: before anybody measured it.
#include "job/assess/predict.hpp"
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;
using job::PredictedLink;

/// A tenth of a thousandth of a dB is far below what any instrument resolves.
double rounded(double db)
{
    return std::round(db * 1e4) / 1e4;
}

Json link_json(PredictedLink const& found)
{
    Json populations = Json::array(), quantiles = Json::array();
    for (job::Population const& each : found.populations)
        populations.push_back({{"what", each.what},
                               {"count", each.count},
                               {"in_reference", each.in_reference},
                               {"mean_db", rounded(each.mean_db)},
                               {"p97_db", rounded(each.p97_db)},
                               {"source", each.source},
                               {"basis", each.basis}});
    for (std::size_t i = 0; i < job::told_shares.size(); ++i)
        quantiles.push_back({{"share", job::told_shares[i]},
                             {"fibre_db", rounded(found.fibre_quantiles_db[i])},
                             {"worst_fibre_db", rounded(found.worst_quantiles_db[i])}});
    Json simulation = nullptr;
    if (found.drawn) {
        Json drawn = Json::array();
        for (double const db : found.drawn->quantiles_db) drawn.push_back(rounded(db));
        simulation = {{"draws", found.drawn->draws},
                      {"seed", found.drawn->seed},
                      {"mean_db", rounded(found.drawn->mean_db)},
                      {"sd_db", rounded(found.drawn->sd_db)},
                      {"fibre_db", drawn},
                      {"chance_fibre", found.drawn->chance_fibre},
                      {"chance_fibre_u", found.drawn->chance_fibre_u}};
    }
    return {{"link", found.link.name.empty() ? Json(nullptr) : Json(found.link.name)},
            {"category", found.link.category->id},
            {"wavelength_nm", found.link.wavelength.value()},
            {"length_m", found.link.length.value()},
            {"ends", found.link.ends},
            {"inner", found.link.inner},
            {"splices", found.link.splices},
            {"fibres", found.link.fibres},
            {"method", setup::name_of(found.link.method)},
            {"populations", populations},
            {"fibre_db_per_km", rounded(found.fibre_db_per_km)},
            {"fibre_source", found.fibre_source},
            {"fibre_db", rounded(found.fibre_db)},
            {"mean_db", rounded(found.mean_db)},
            {"sd_db", rounded(found.sd_db)},
            {"quantiles", quantiles},
            {"route", found.route},
            {"limit_db", rounded(found.limit.value())},
            {"limit_from", found.limit_from},
            {"chance_fibre", found.chance_fibre},
            {"chance_link", found.chance_link},
            {"simulation", simulation}};
}

/// "99.98 %": enough digits to tell it from certainty, never "100 %" for what is not.
std::string percent_text(double chance)
{
    if (chance >= 1 - 1e-9) return "over 99.9999 %";
    for (int decimals = 1; decimals <= 4; ++decimals) {
        double const shown = std::stod(fixed_text(chance * 100, decimals));
        if (shown < 100 && shown > 0) return fixed_text(chance * 100, decimals) + " %";
    }
    return chance > 0.5 ? "over 99.9999 %" : "under 0.0001 %";
}

std::string share_text(double share)
{
    return number_text(std::round(share * 1e6) / 1e4) + " %";
}

std::string link_text(PredictedLink const& found)
{
    job::PlannedLink const& link = found.link;
    std::string text =
        fmt::format("{}{} at {} nm, {} m, {} fibres, {} reference\n",
                    link.name.empty() ? "" : link.name + ": ", link.category->id, link.wavelength.value(),
                    number_text(link.length.value()), link.fibres, setup::name_of(link.method));
    Table parts({{"what"},
                 {"count", Align::right},
                 {"mean, dB", Align::right},
                 {"97 % within, dB", Align::right},
                 {"source"}});
    parts.add({"fibre", fmt::format("{} km", number_text(link.length.value() / 1000)),
               fixed_text(found.fibre_db, 3), "", found.fibre_source});
    bool memory = false;
    for (job::Population const& each : found.populations) {
        bool const from_memory = each.basis == "memory";
        memory = memory || from_memory;
        parts.add({each.what, fmt::format("{}{}", each.in_reference ? "−" : "", each.count),
                   fixed_text(each.mean_db, 3), fixed_text(each.p97_db, 3),
                   each.source + (from_memory ? " *" : "")});
    }
    text += parts.text();
    text += fmt::format("\n  One fibre: mean {} dB, standard deviation {} dB ({})\n",
                        fixed_text(found.mean_db, 3), fixed_text(found.sd_db, 3), found.route);
    Table quantiles({{"share of links"},
                     {"one fibre within, dB", Align::right},
                     {"worst fibre within, dB", Align::right}});
    for (std::size_t i = 0; i < job::told_shares.size(); ++i)
        quantiles.add({share_text(job::told_shares[i]), fixed_text(found.fibre_quantiles_db[i], 3),
                       fixed_text(found.worst_quantiles_db[i], 3)});
    text += quantiles.text();
    text += fmt::format("\n  Limit {} dB ({}): chance to pass {} for one fibre, {} for all {}\n",
                        fixed_text(found.limit.value(), 3), found.limit_from,
                        percent_text(found.chance_fibre), percent_text(found.chance_link), link.fibres);
    if (found.drawn)
        text += fmt::format("  Simulated, {} draws, seed {}: mean {} dB, standard deviation {} dB, chance to "
                            "pass {} for one fibre (standard error {} %)\n",
                            found.drawn->draws, found.drawn->seed, fixed_text(found.drawn->mean_db, 3),
                            fixed_text(found.drawn->sd_db, 3), percent_text(found.drawn->chance_fibre),
                            fixed_text(found.drawn->chance_fibre_u * 100, 3));
    if (memory) text += "  * from memory, not confirmed against a printed copy\n";
    return text;
}

struct Ask
{
    job::PredictWish wish;
    facts::RuleSet own; ///< of --rule-file; `wish` points at it
    std::vector<job::PlannedLink> links;
};

Outcome read_rules(Arguments const& arguments, World const& world, Ask& ask)
{
    facts::Tables const& tables = facts::built_in_tables();
    if (arguments.has("--rule-file")) {
        std::string const name = arguments.text("--rule-file");
        TRY_ASSIGN(std::string const text, job::read_file(path_in(world, name)));
        TRY_ASSIGN(ask.own, facts::load_rule_set({name, text}, tables));
        ask.wish.rules = &ask.own;
        return {};
    }
    auto const rules = tables.rule_set(arguments.text("--rules"));
    if (!rules) return Error{Errc::usage, "--rules: " + rules.error().message};
    ask.wish.rules = *rules;
    return {};
}

Result<double> number_from(Arguments const& arguments, char const* name, double least, double most)
{
    TRY_ASSIGN(double const value, arguments.number(name));
    if (!(value >= least && value <= most))
        return Error{Errc::usage, fmt::format("{}: {} is not from {} to {}", name, number_text(value),
                                              number_text(least), number_text(most))};
    return value;
}

Outcome read_wish(Arguments const& arguments, job::PredictWish& wish)
{
    wish.grade = arguments.text("--grade");
    wish.end_grade = arguments.text("--end-grade");
    if (arguments.has("--fibre-loss")) {
        TRY_ASSIGN(wish.fibre_db_per_km, number_from(arguments, "--fibre-loss", 0, 100));
    }
    if (arguments.has("--splice-loss")) {
        std::string const words = arguments.text("--splice-loss");
        auto const parts = split(words, ',');
        auto const mean = parse_number(trimmed(parts.front()));
        auto const p97 = parts.size() == 2 ? parse_number(trimmed(parts.back())) : std::nullopt;
        if (!mean || !p97)
            return Error{Errc::usage, fmt::format("--splice-loss: \"{}\"; write the mean and the value that "
                                                  "97 of 100 stay within, such as 0.05,0.1",
                                                  words)};
        wish.splice = job::GivenPopulation{*mean, *p97};
    }
    if (arguments.has("--limit")) {
        TRY_ASSIGN(double const limit, number_from(arguments, "--limit", 0, 1000));
        wish.limit = Decibel{limit};
        wish.limit_from = "as given";
    }
    if (arguments.has("--simulate")) {
        TRY_ASSIGN(double const draws, number_from(arguments, "--simulate", 1000, 1e8));
        wish.draws = static_cast<std::size_t>(draws);
    }
    TRY_ASSIGN(double const seed, number_from(arguments, "--seed", 0, 9e15));
    wish.seed = static_cast<std::uint64_t>(seed);
    return {};
}

/// The loss that an application allows over this fibre.
Outcome limit_of_application(Arguments const& arguments, job::PlannedLink const& link, job::PredictWish& wish)
{
    if (!arguments.has("--application")) return {};
    if (arguments.has("--limit"))
        return Error{Errc::usage, "--application and --limit both set the limit: leave out one of them"};
    auto const application = facts::built_in_tables().application(arguments.text("--application"));
    if (!application) return Error{Errc::usage, "--application: " + application.error().message};
    for (facts::ApplicationLimit const& limit : (*application)->limits) {
        if (limit.category != link.category->id || !limit.loss) continue;
        wish.limit = Decibel{limit.loss->value};
        wish.limit_from = fmt::format("{}, {}", (*application)->name, limit.loss->source.text());
        return {};
    }
    return Error{Errc::not_found, fmt::format("The tables have no loss for {} over {}", (*application)->name,
                                              link.category->id)};
}

Outcome read_link(Arguments const& arguments, Ask& ask)
{
    job::PlannedLink link;
    if (!arguments.has("--category"))
        return Error{Errc::usage, "--category is missing (or name a job, to predict its links)"};
    auto const category = facts::built_in_tables().category(arguments.text("--category"));
    if (!category) return Error{Errc::usage, "--category: " + category.error().message};
    link.category = *category;
    auto const length = parse_length(arguments.text("--length"));
    if (!length)
        return Error{Errc::usage,
                     fmt::format("--length: \"{}\" is not a length; write 100, \"100 m\" or \"328 ft\"",
                                 arguments.text("--length"))};
    link.length = *length;
    TRY_ASSIGN(link.ends, arguments.integer("--ends"));
    TRY_ASSIGN(link.inner, arguments.integer("--inner"));
    TRY_ASSIGN(link.splices, arguments.integer("--splices"));
    TRY_ASSIGN(link.fibres, arguments.integer("--fibres"));
    link.method = *setup::parse_reference_method(arguments.text("--method")); // one of its choices
    link.cords = *facts::parse_cord_grade(arguments.text("--cords"));
    TRY(limit_of_application(arguments, link, ask.wish));
    std::vector<std::string> wavelengths = arguments.texts("--wavelength");
    if (wavelengths.empty()) {
        bool const multimode = link.category->kind == facts::FibreKind::multimode;
        wavelengths = multimode ? std::vector<std::string>{"850"} : std::vector<std::string>{"1310", "1550"};
    }
    for (std::string const& word : wavelengths) {
        auto const nm = parse_integer(word);
        if (!nm || *nm < 600 || *nm > 1700)
            return Error{Errc::usage,
                         fmt::format("--wavelength: \"{}\" is not a wavelength from 600 to 1700 nm", word)};
        link.wavelength = Nanometres{static_cast<int>(*nm)};
        ask.links.push_back(link);
    }
    return {};
}

/// One row a link; the least likely to pass first.
std::string job_text(std::vector<PredictedLink> const& found)
{
    std::vector<PredictedLink const*> rows;
    for (PredictedLink const& each : found) rows.push_back(&each);
    std::stable_sort(rows.begin(), rows.end(),
                     [](auto const* a, auto const* b) { return a->chance_link < b->chance_link; });
    Table table({{"link"},
                 {"fibre"},
                 {"length, m", Align::right},
                 {"nm", Align::right},
                 {"joints", Align::right},
                 {"mean, dB", Align::right},
                 {"sd, dB", Align::right},
                 {"95 % of links within, dB", Align::right},
                 {"limit, dB", Align::right},
                 {"all fibres pass", Align::right}});
    for (PredictedLink const* each : rows) {
        table.add({each->link.name, each->link.category->id, number_text(each->link.length.value()),
                   fmt::format("{}", each->link.wavelength.value()),
                   fmt::format("{}", each->link.ends + each->link.inner), fixed_text(each->mean_db, 2),
                   fixed_text(each->sd_db, 2), fixed_text(each->worst_quantiles_db[1], 2),
                   fixed_text(each->limit.value(), 2), percent_text(each->chance_link)});
    }
    double expected = 0;
    for (PredictedLink const& each : found) expected += 1 - each.chance_link;
    return table.text() + fmt::format("{} prediction{}; expected failures: {}\n", found.size(),
                                      plural_ending(found.size()), fixed_text(expected, 2));
}

struct Fit
{
    bool connections = true;
    double yield = 0.95;
    job::PlanAnswer answer;
    PredictedLink const* at = nullptr;
};

std::string fit_text(Fit const& fit)
{
    PredictedLink const& found = *fit.at;
    std::string const of = fmt::format("{} dB ({}) at {} nm", fixed_text(found.limit.value(), 3),
                                       found.limit_from, found.link.wavelength.value());
    std::string const who = fmt::format("{} of {}-fibre links", share_text(fit.yield), found.link.fibres);
    if (!fit.answer.any)
        return fmt::format("  Within {}: fewer than {} pass {}: {}\n", of, who,
                           fit.connections ? "even with no connection inside" : "at any length",
                           percent_text(fit.answer.yield));
    std::string const what = fit.connections ? fmt::format("{} connection{} inside", fit.answer.connections,
                                                           plural_ending(fit.answer.connections))
                                             : fmt::format("{} m", number_text(fit.answer.length_m));
    if (fit.answer.at_the_end) return fmt::format("  Within {}: {} pass with {} or more\n", of, who, what);
    return fmt::format("  Within {}: {} pass with up to {} ({}; with one {} more: {})\n", of, who, what,
                       percent_text(fit.answer.yield), fit.connections ? "connection" : "metre",
                       percent_text(fit.answer.yield_beyond));
}

Json fit_json(Fit const& fit)
{
    return {{"what", fit.connections ? "connections" : "length"},
            {"share", fit.yield},
            {"wavelength_nm", fit.at->link.wavelength.value()},
            {"limit_db", rounded(fit.at->limit.value())},
            {"possible", fit.answer.any},
            {"connections_inside",
             fit.connections && fit.answer.any ? Json(fit.answer.connections) : Json(nullptr)},
            {"length_m", !fit.connections && fit.answer.any ? Json(fit.answer.length_m) : Json(nullptr)},
            {"at_the_end_of_the_search", fit.answer.at_the_end},
            {"chance_link", fit.answer.yield},
            {"chance_link_beyond",
             fit.answer.any && !fit.answer.at_the_end ? Json(fit.answer.yield_beyond) : Json(nullptr)}};
}

Outcome refuse_with_job(Arguments const& arguments)
{
    for (char const* name :
         {"--category", "--wavelength", "--length", "--application", "--fit", "--rule-file"}) {
        if (arguments.given.contains(name))
            return Error{Errc::usage,
                         fmt::format("{} cannot be used with a job: its links already give it", name)};
    }
    return {};
}

Result<int> run_predict(Arguments const& arguments, World& world)
{
    Ask ask;
    TRY(read_wish(arguments, ask.wish));
    std::optional<job::Job> opened;
    if (arguments.has("JOB")) {
        TRY(refuse_with_job(arguments));
        TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), false));
        opened.emplace(std::move(job));
        ask.wish.rules = &opened->state().rules;
        ask.wish.tables = &opened->state().tables;
        TRY_ASSIGN(ask.links, job::planned_links(opened->state(), arguments.texts("--links")));
    } else {
        if (arguments.has("--links")) return Error{Errc::usage, "--links needs a JOB"};
        TRY(read_rules(arguments, world, ask));
        TRY(read_link(arguments, ask));
    }
    std::vector<PredictedLink> found;
    for (job::PlannedLink const& link : ask.links) {
        auto one = job::predict_link(link, ask.wish);
        if (!one) return link.name.empty() ? one.error() : one.error().within("Link " + link.name);
        found.push_back(std::move(*one));
    }
    std::vector<Fit> fits;
    if (arguments.has("--fit")) {
        TRY_ASSIGN(double const share, number_from(arguments, "--share", 0.0001, 0.999999));
        for (PredictedLink const& each : found) {
            Fit fit;
            fit.connections = arguments.text("--fit") == "connections";
            fit.yield = share;
            fit.at = &each;
            auto answer = fit.connections ? job::connections_within(each.link, ask.wish, each.limit, share)
                                          : job::length_within(each.link, ask.wish, each.limit, share);
            if (!answer) return answer.error();
            fit.answer = *answer;
            fits.push_back(fit);
        }
    }
    if (world.json) {
        Json predictions = Json::array(), plans = Json::array();
        for (PredictedLink const& each : found) predictions.push_back(link_json(each));
        for (Fit const& fit : fits) plans.push_back(fit_json(fit));
        world.out +=
            Json{{"predictions", predictions}, {"fits", plans}}.dump(2, ' ', false, damaged_text) + "\n";
        return 0;
    }
    if (opened && !arguments.has("--links")) {
        world.out += job_text(found);
        return 0;
    }
    for (std::size_t i = 0; i < found.size(); ++i) {
        if (i > 0) world.out += "\n";
        world.out += link_text(found[i]);
        if (i < fits.size()) world.out += fit_text(fits[i]);
    }
    return 0;
}

constexpr std::array predict_options{
    Option{"JOB", "", "the job whose scheduled links to predict"},
    Option{"--links", "ID", "only these links of the job", false, true},
    Option{"--category", "OM4", "category of the cabled fibre"},
    Option{"--wavelength", "NM", "wavelength in nm (default: 850, or 1310 and 1550)", false, true},
    Option{"--length", "L", "length: 100, \"100 m\", \"328 ft\"", false, false, "0"},
    Option{"--ends", "N", "connections to the test cords", false, false, "2"},
    Option{"--inner", "N", "connections inside the link", false, false, "0"},
    Option{"--grade", "G", "attenuation grade of connections: Bm, Cm; B, C, D (default: Bm, B)"},
    Option{"--end-grade", "G", "grade of the connections to the test cords (default: as inside)"},
    Option{"--splices", "N", "splices inside the link", false, false, "0"},
    Option{"--splice-loss", "MEAN,P97",
           "loss of one splice in dB, such as 0.05,0.1 (default: the planning value)"},
    Option{"--fibre-loss", "DB",
           "real loss of the fibre in dB per km (default: 0.8 of what the rule set allows)"},
    Option{"--fibres", "N", "fibres of the link", false, false, "12"},
    Option{"--method", "M", "reference method, named by the number of cords in the reference", false, false,
           "one-cord", "one-cord,two-cord,three-cord"},
    Option{"--cords", "GRADE", "grade of the test cords", false, false, "reference", "reference,standard"},
    Option{"--rules", "ID", "rule set of the limit", false, false, "tia-568.3-e"},
    Option{"--rule-file", "FILE", "your own rule set instead (docs/formats/rule-set.md)"},
    Option{"--limit", "DB", "your own limit instead of the rule set's"},
    Option{"--application", "ID", "use the loss that this application allows as the limit"},
    Option{"--fit",
           "WHAT",
           "also find how many connections inside, or what length, the limit allows",
           false,
           false,
           {},
           "connections,length"},
    Option{"--share", "P", "share of the links that must pass with all fibres", false, false, "0.95"},
    Option{"--simulate", "N", "check the result with this many random draws"},
    Option{"--seed", "S", "seed of the draws", false, false, "1"},
    operator_option,
    key_option,
};

} // namespace

Command const predict_command{
    "predict",
    "Predict what a link should lose, and the chance that it passes",
    "Predicts mean, standard deviation and quantiles of one fibre and of the worst fibre of the link, from "
    "the fibre, the connections and their grade, the splices and the test cords' ends. Gives the chance to "
    "meet the limit and, with --fit, how many connections or what length the limit allows. A grade describes "
    "the worst population that it permits: your connectors may be better.",
    "predict --category OS2 --length 500 --inner 2 --grade B --limit 2.0 --fit connections",
    predict_options,
    &run_predict};

} // namespace guidepin::cli
