// SPDX-License-Identifier: Apache-2.0
// What came out: counts, and the links that want attention, each with its row.
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/registry.hpp"
#include "job/paper/unconfirmed.hpp"
#include "job/paper/wording.hpp"
#include "job/sheet/locale.hpp"

#include <array>
#include <cmath>
#include <map>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;
using record::DerivedLink;

Json number_or_null(std::optional<double> value)
{
    // Four decimals are a hundredth of what any instrument of the trade resolves.
    return value ? Json(std::round(*value * 1e4) / 1e4) : Json(nullptr);
}

Json link_json(DerivedLink const& link, std::optional<job::ExpectedBand> const& band,
               std::optional<job::LinkStandout> const& standout)
{
    return {
        {"link", link.link},
        {"zone", link.zone},
        {"state", link.state},
        {"scheduled", link.scheduled},
        {"category", link.category},
        {"fibres", link.fibres},
        {"failed_fibres", link.failed_fibres},
        {"worst_margin_db", number_or_null(link.worst_margin_db)},
        {"worst_attenuation_db", number_or_null(link.worst_attenuation_db)},
        {"worst_limit_db", number_or_null(link.worst_limit_db)},
        {"worst_position", link.worst_position ? Json(*link.worst_position) : Json(nullptr)},
        {"worst_wavelength_nm", link.worst_wavelength_nm ? Json(*link.worst_wavelength_nm) : Json(nullptr)},
        {"probability_of_conformity", number_or_null(link.conformity)},
        {"length_m", number_or_null(link.length_m)},
        {"reference", link.reference},
        {"operator", link.operator_name},
        {"tests", link.tests},
        {"reason", link.reason},
        {"expected_low_db", number_or_null(band ? std::optional(band->low) : std::nullopt)},
        {"expected_high_db", number_or_null(band ? std::optional(band->high) : std::nullopt)},
        {"surprise", number_or_null(standout ? std::optional(standout->surprise) : std::nullopt)},
        {"stands_out", standout && standout->stands_out}};
}

/// One tank a position: eighths of the limit, "!" over the brim, "." not measured, a gap for an unused
/// position.
std::string text_row(std::string const& row)
{
    static constexpr std::array<char const*, 8> levels{"▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"};
    auto const first = split(row, ';').front();
    auto const colon = first.find(':');
    if (colon == std::string_view::npos) return {};
    std::string text = "|";
    for (std::string_view cell : split(first.substr(colon + 1), ',')) {
        if (cell == "-") {
            text += ' ';
            continue;
        }
        char const state = cell.empty() ? 'o' : cell.back();
        cell.remove_suffix(cell.empty() ? 0 : 1);
        auto const level = parse_integer(cell);
        if (!level) {
            text += state == 'o' ? "." : "?";
        } else if (*level > 1000) {
            text += '!';
        } else {
            text += levels[static_cast<std::size_t>(std::clamp<std::int64_t>(*level * 8 / 1000, 0, 7))];
        }
    }
    return text + "|";
}

struct Shown
{
    DerivedLink const* link = nullptr;
    std::size_t index = 0; ///< of the readings' links
};

/// What a link should show at the wavelength of its worst reading.
std::optional<job::ExpectedBand> band_of(job::Assessment const& assessment, Shown const& shown)
{
    if (!shown.link->worst_wavelength_nm || !shown.link->scheduled) return std::nullopt;
    verdict::LinkKind const& kind = assessment.tasks.kinds[assessment.tasks.links[shown.index].kind];
    for (std::size_t w = 0; w < kind.wavelengths; ++w) {
        if (kind.wavelength_nm[w] == *shown.link->worst_wavelength_nm)
            return assessment.expectation->band(shown.index, w);
    }
    return std::nullopt;
}

/// Links that pass and are not as they should be.
std::string standouts_text(job::JobState const& state, job::Assessment const& assessment,
                           std::vector<Shown> const& links)
{
    report::Locale const locale = job::locale_of(state.settings);
    std::string text;
    std::size_t width = 4;
    std::vector<std::pair<Shown, job::LinkStandout>> found;
    for (Shown const& shown : links) {
        if (shown.link->state != "pass" && shown.link->state != "marginal-pass") continue;
        auto const standout = assessment.expectation->standout(state, assessment, shown.index);
        if (!standout || !standout->stands_out) continue;
        found.emplace_back(shown, *standout);
        width = std::max(width, shown.link->link.size());
    }
    if (found.empty()) return {};
    std::stable_sort(found.begin(), found.end(),
                     [](auto const& a, auto const& b) { return a.second.surprise > b.second.surprise; });
    text = "They pass, and stand out from links like them (one healthy link in 1,000 would):\n";
    constexpr std::size_t most = 20;
    for (std::size_t i = 0; i < found.size() && i < most; ++i)
        text += fmt::format("  {:<{}}  surprise {}: {}\n", found[i].first.link->link, width,
                            locale.number(found[i].second.surprise, 1),
                            job::standout_text(found[i].second, locale));
    if (found.size() > most) text += fmt::format("  and {} more; --json has them all\n", found.size() - most);
    return text;
}

std::string margin_text(DerivedLink const& link, report::Locale const& locale)
{
    if (!link.worst_margin_db) return "";
    if (job::worst_is_dark(link))
        return fmt::format("no light at {}, {} nm", *link.worst_position, *link.worst_wavelength_nm);
    return fmt::format("{} dB at {}, {} nm", locale.number(*link.worst_margin_db, 2), *link.worst_position,
                       *link.worst_wavelength_nm);
}

Result<int> run(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), false));
    TRY(warn_of_defects(job, arguments.text("JOB")));
    TRY_ASSIGN(auto const* const assessment, job.assessment());
    auto tables = job::derive(job.state(), *assessment);
    std::string const state = arguments.text("--state");
    std::string const zone = arguments.text("--zone");
    std::string const needle = lowered(arguments.text("--find"));
    std::map<std::string, std::size_t> counts;
    std::vector<Shown> shown;
    for (std::size_t i = 0; i < tables.links.size(); ++i) {
        DerivedLink const& link = tables.links[i];
        ++counts[link.state];
        if (!state.empty() && link.state != state) continue;
        if (!zone.empty() && link.zone != zone) continue;
        if (!needle.empty() && link.search.find(needle) == std::string::npos) continue;
        shown.push_back({&link, i});
    }
    bool const filtered = !state.empty() || !zone.empty() || !needle.empty() || arguments.has("--all");
    std::size_t const conforming = counts["pass"] + counts["marginal-pass"];
    bool const all_conform = conforming == tables.links.size();
    auto const unconfirmed = job::unconfirmed_of(job.state(), *assessment);
    if (world.json) {
        Json links = Json::array();
        for (Shown const& one : shown)
            links.push_back(
                link_json(*one.link, band_of(*assessment, one),
                          assessment->expectation->standout(job.state(), *assessment, one.index)));
        Json memory = Json::array();
        for (auto const& value : unconfirmed)
            memory.push_back({{"quantity", value.quantity},
                              {"value", value.value},
                              {"source", value.source},
                              {"decides", value.decides},
                              {"override_by", value.override_by}});
        Json json_counts = Json::object();
        for (char const* name : {"pass", "marginal-pass", "marginal-fail", "fail", "held", "open"})
            json_counts[name] = counts[name];
        world.out +=
            Json{{"job", arguments.text("JOB")},     {"decision_rule", job.state().settings.decision_rule},
                 {"rule_set", job.state().rules.id}, {"counts", json_counts},
                 {"rests_on_memory", memory},        {"links", links}}
                .dump(2, ' ', false, damaged_text) +
            "\n";
        return all_conform ? 0 : 1;
    }
    world.out += fmt::format("{} links: {} pass", tables.links.size(), counts["pass"]);
    for (char const* name : {"marginal-pass", "marginal-fail", "fail", "held", "open"}) {
        if (counts[name] > 0) world.out += fmt::format(", {} {}", counts[name], name);
    }
    world.out += fmt::format("\n{} under {}, {}\n", job.state().settings.decision_rule,
                             job.state().rules.title, setup::name_of(job.state().settings.method));
    std::string const standouts = standouts_text(job.state(), *assessment, shown);
    if (!filtered) {
        std::erase_if(shown, [](Shown const& one) { return one.link->state == "pass"; });
    }
    std::stable_sort(shown.begin(), shown.end(), [](Shown const& a, Shown const& b) {
        auto const rank = [](std::string const& s) {
            return s == "fail"            ? 0
                   : s == "marginal-fail" ? 1
                   : s == "held"          ? 2
                   : s == "marginal-pass" ? 3
                   : s == "open"          ? 4
                                          : 5;
        };
        return rank(a.link->state) < rank(b.link->state);
    });
    std::size_t width = 4;
    for (Shown const& one : shown) width = std::max(width, one.link->link.size());
    std::size_t const most = arguments.has("--all") ? shown.size() : 60;
    for (std::size_t i = 0; i < shown.size() && i < most; ++i) {
        DerivedLink const& link = *shown[i].link;
        bool const bad = link.state == "fail" || link.state == "marginal-fail";
        std::string const word = world.terminal && bad
                                     ? "\033[38;5;166m" + fmt::format("{:<13}", link.state) + "\033[0m"
                                     : fmt::format("{:<13}", link.state);
        world.out += fmt::format("  {:<{}}  {} {}  {}\n", link.link, width, word, text_row(link.row),
                                 margin_text(link, job::locale_of(job.state().settings)));
        // A reason that many links share is told once.
        bool const told = i > 0 && shown[i - 1].link->reason == link.reason;
        if (!link.reason.empty() && !told && link.state != "open")
            world.out += fmt::format("  {:<{}}    {}\n", "", width, link.reason);
    }
    world.out += standouts;
    if (!unconfirmed.empty()) {
        world.out += "Not confirmed against a printed copy (basis memory); a rule file of the contract "
                     "replaces them:\n";
        for (auto const& value : unconfirmed)
            world.out +=
                fmt::format("  {} {}, {}: {}\n", value.quantity, value.value, value.source, value.decides);
    }
    if (shown.size() > most)
        world.out += fmt::format("  and {} more; --all shows them\n", shown.size() - most);
    return all_conform ? 0 : 1;
}

constexpr std::array options{
    job_option,
    Option{"--state",
           "S",
           "only links in this state",
           false,
           false,
           {},
           "pass,marginal-pass,marginal-fail,fail,held,open"},
    Option{"--zone", "Z", "only links of this zone"},
    Option{"--find", "TEXT", "only links whose id, zone or end names hold this text"},
    Option{"--all", "", "every link, passing ones too"},
};

} // namespace

Command const verdicts_command{
    "verdicts",
    "Say what came out, link by link",
    "Judges every link from the records: loss against its limit, polarity, length, completeness. Without "
    "options it lists what does not simply pass, worst first. "
    "Exit code 1 when a link fails, is held or open.",
    "verdicts hall.guidepin --state fail",
    options,
    &run};

} // namespace guidepin::cli
