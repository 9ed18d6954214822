// SPDX-License-Identifier: Apache-2.0
// The verdicts: counts, and the links that need attention, each with its row.
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"
#include "job/paper/unconfirmed.hpp"
#include "job/paper/wording.hpp"
#include "job/sheet/locale.hpp"

#include <algorithm>
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

/// One tank per position: eighths of the limit, "!" above the limit, "." not measured, a gap for an unused
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

/// Links that pass but read unlike others of their kind.
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
    text = "These pass but stand out from links like them (1 healthy link in 1,000 would):\n";
    constexpr std::size_t most = 20;
    for (std::size_t i = 0; i < found.size() && i < most; ++i)
        text += fmt::format("  {:<{}}  surprise {}: {}\n", found[i].first.link->link, width,
                            locale.number(found[i].second.surprise, 1),
                            job::standout_text(found[i].second, locale));
    if (found.size() > most)
        text += fmt::format("  and {} more; --json lists all of them\n", found.size() - most);
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

/// Link states in the order of the list: what needs attention first.
constexpr std::array worst_first{"fail", "marginal-fail", "held", "marginal-pass", "open", "pass"};

std::size_t rank_of(std::string_view state)
{
    auto const found = std::find(worst_first.begin(), worst_first.end(), state);
    return static_cast<std::size_t>(found - worst_first.begin());
}

/// Which links a person asked for.
struct Filter
{
    std::string state, zone, needle;
    bool all = false;

    /// Without any wish the list leaves out the links that simply pass.
    bool leaves_out_passes() const { return state.empty() && zone.empty() && needle.empty() && !all; }
    bool matches(DerivedLink const& link) const
    {
        return (state.empty() || link.state == state) && (zone.empty() || link.zone == zone) &&
               (needle.empty() || link.search.find(needle) != std::string::npos);
    }
};

Filter filter_of(Arguments const& arguments)
{
    return {arguments.text("--state"), arguments.text("--zone"), lowered(arguments.text("--find")),
            arguments.has("--all")};
}

/// What the command answers from, read once.
struct Answer
{
    std::map<std::string, std::size_t> counts; ///< links of the job by state
    std::size_t links = 0;                     ///< of the job
    std::vector<Shown> shown;                  ///< in the order of the schedule
    std::vector<report::Unconfirmed> unconfirmed;

    std::size_t count(char const* state) const
    {
        auto const found = counts.find(state);
        return found == counts.end() ? 0 : found->second;
    }
    bool all_conform() const { return count("pass") + count("marginal-pass") == links; }
};

Answer answer_of(std::vector<DerivedLink> const& links, Filter const& filter)
{
    Answer answer;
    answer.links = links.size();
    for (std::size_t i = 0; i < links.size(); ++i) {
        ++answer.counts[links[i].state];
        if (filter.matches(links[i])) answer.shown.push_back({&links[i], i});
    }
    return answer;
}

Json answer_json(job::JobState const& state, job::Assessment const& assessment, Answer const& answer,
                 std::string const& name)
{
    Json links = Json::array(), memory = Json::array(), counts = Json::object();
    for (Shown const& one : answer.shown)
        links.push_back(link_json(*one.link, band_of(assessment, one),
                                  assessment.expectation->standout(state, assessment, one.index)));
    for (auto const& value : answer.unconfirmed)
        memory.push_back({{"quantity", value.quantity},
                          {"value", value.value},
                          {"source", value.source},
                          {"decides", value.decides},
                          {"override_by", value.override_by}});
    for (char const* each : {"pass", "marginal-pass", "marginal-fail", "fail", "held", "open"})
        counts[each] = answer.count(each);
    return {{"job", name},
            {"decision_rule", state.settings.decision_rule},
            {"rule_set", state.rules.id},
            {"counts", counts},
            {"rests_on_memory", memory},
            {"links", links}};
}

std::string headline(job::JobState const& state, Answer const& answer)
{
    std::string text = fmt::format("{}: {} pass", counted(answer.links, "link"), answer.count("pass"));
    for (char const* name : {"marginal-pass", "marginal-fail", "fail", "held", "open"}) {
        if (answer.count(name) > 0) text += fmt::format(", {} {}", answer.count(name), name);
    }
    std::string rule = state.settings.decision_rule;
    std::replace(rule.begin(), rule.end(), '-', ' ');
    return text + fmt::format("\nRules: {}, {}, {} reference\n", rule, state.rules.title,
                              setup::name_of(state.settings.method));
}

/// One line per link with its row and margin, and below it the reason; the worst links first.
std::string links_text(std::vector<Shown> const& links, std::size_t most, job::JobState const& state,
                       World const& world)
{
    report::Locale const locale = job::locale_of(state.settings);
    std::size_t width = 4;
    for (Shown const& one : links) width = std::max(width, one.link->link.size());
    std::string text;
    for (std::size_t i = 0; i < links.size() && i < most; ++i) {
        DerivedLink const& link = *links[i].link;
        bool const bad = link.state == "fail" || link.state == "marginal-fail";
        std::string const padded = fmt::format("{:<13}", link.state);
        text += fmt::format("  {:<{}}  {} {}  {}\n", link.link, width,
                            world.terminal && bad ? "\033[38;5;166m" + padded + "\033[0m" : padded,
                            text_row(link.row), margin_text(link, locale));
        // Links in a row that share a reason print it once.
        bool const same_reason = i > 0 && links[i - 1].link->reason == link.reason;
        if (!link.reason.empty() && !same_reason && link.state != "open")
            text += fmt::format("  {:<{}}    {}\n", "", width, link.reason);
    }
    return text;
}

std::string unconfirmed_text(std::vector<report::Unconfirmed> const& values)
{
    if (values.empty()) return {};
    std::string text = "Values from memory, not confirmed against a printed copy; the contract's rule set "
                       "can replace them:\n";
    for (auto const& value : values)
        text += fmt::format("  {} {}, {}: {}\n", value.quantity, value.value, value.source, value.decides);
    return text;
}

Result<int> run_verdicts(Arguments const& arguments, World& world)
{
    TRY_ASSIGN(auto job, open_job(arguments, world, actor_of(arguments, world), false));
    TRY(warn_of_defects(job, arguments.text("JOB")));
    TRY_ASSIGN(auto const* const assessment, job.assessment());
    job::JobState const& state = job.state();
    auto const tables = job::derive(state, *assessment);
    Filter const filter = filter_of(arguments);
    Answer answer = answer_of(tables.links, filter);
    answer.unconfirmed = job::unconfirmed_of(state, *assessment);
    int const code = answer.all_conform() ? 0 : 1;
    if (world.json) {
        world.out +=
            answer_json(state, *assessment, answer, arguments.text("JOB")).dump(2, ' ', false, damaged_text) +
            "\n";
        return code;
    }
    world.out += headline(state, answer);
    std::string const standouts = standouts_text(state, *assessment, answer.shown);
    if (filter.leaves_out_passes())
        std::erase_if(answer.shown, [](Shown const& one) { return one.link->state == "pass"; });
    std::stable_sort(answer.shown.begin(), answer.shown.end(), [](Shown const& a, Shown const& b) {
        return rank_of(a.link->state) < rank_of(b.link->state);
    });
    std::size_t const most = filter.all ? answer.shown.size() : 60;
    world.out += links_text(answer.shown, most, state, world);
    world.out += standouts + unconfirmed_text(answer.unconfirmed);
    if (answer.shown.size() > most)
        world.out += fmt::format("  and {} more; --all shows them\n", answer.shown.size() - most);
    return code;
}

constexpr std::array verdicts_options{
    job_option,
    Option{"--state",
           "S",
           "show only links in this state",
           false,
           false,
           {},
           "pass,marginal-pass,marginal-fail,fail,held,open"},
    Option{"--zone", "Z", "show only links of this zone"},
    Option{"--find", "TEXT", "show only links whose id, zone or end names contain this text"},
    Option{"--all", "", "show every link, also those that pass"},
};

} // namespace

Command const verdicts_command{"verdicts",
                               "Show the verdict of each link",
                               "Judges every link from the records: loss against its limit, polarity, "
                               "length, completeness. Without options it lists the links that do not simply "
                               "pass, worst first. Exit code 1 when a link fails, is held or is open.",
                               "verdicts hall.guidepin --state fail",
                               verdicts_options,
                               &run_verdicts};

} // namespace guidepin::cli
