// SPDX-License-Identifier: Apache-2.0
// An invented site with known faults, as the files that a person would bring.
#include "base/csv_cell.hpp"
#include "base/text.hpp"
#include "cli/job_world.hpp"
#include "cli/json_output.hpp"
#include "cli/print.hpp"
#include "cli/registry.hpp"
#include "intake/write.hpp"
#include "simulate/site.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <map>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace guidepin::cli {

namespace {

using Json = nlohmann::ordered_json;

std::string kit_of(simulate::Reference const& reference)
{
    return fmt::format("{}-{}", reference.family, facts::name_of(reference.kind));
}

std::string job_sheet(simulate::Site const& site, simulate::Design const& design)
{
    std::string text =
        fmt::format("# SPDX-License-Identifier: Apache-2.0\n# A simulated site, seed {}.\n\n[job]\ntitle = "
                    "\"Simulated site {}\"\nclient = \"Nobody\"\nsite = \"Nowhere\"\ncontractor = "
                    "\"Nobody\"\n\n[rules]\nrule-set = \"tia-568.3-e\"\nmethod = \"one-cord\"\ncord-grade = "
                    "\"reference\"\ndecision = \"simple-acceptance\"\ndirections = {}\nwavelengths-multimode "
                    "= [850, 1300]\nwavelengths-single-mode = [1310, 1550]\nreference-age-hours = 16\n",
                    design.seed, design.seed, design.both_directions ? 2 : 1);
    std::map<std::string, simulate::Reference const*> kits;
    for (simulate::Reference const& reference : site.references) kits.emplace(kit_of(reference), &reference);
    // Sixteen weeks before the first of them.
    std::int64_t first_ms = std::numeric_limits<std::int64_t>::max();
    for (simulate::Reference const& reference : site.references)
        for (simulate::ReferencePower const& power : reference.powers)
            first_ms = std::min(first_ms, power.taken_ms);
    constexpr std::int64_t weeks_ms = 16 * 7 * std::int64_t{86'400'000};
    std::string const calibrated = date_text(Instant{site.references.empty() ? 0 : first_ms - weeks_ms, 0});
    for (auto const& [kit, reference] : kits) {
        char const* const face = reference->kind == facts::FibreKind::multimode ? "flat" : "angled";
        for (char const* role : {"source", "meter"}) {
            text +=
                fmt::format("\n[[instrument]]\nid = \"{0}-{1}\"\nrole = \"{0}\"\nfamily = \"{2}\"\npins = "
                            "\"pinned\"\nface = \"{3}\"\ncalibrated = {4}\ncalibration-due = 2027-11-10\n",
                            role, kit, reference->family, face, calibrated);
        }
        for (char const* role : {"launch", "tail", "substitution"}) {
            bool const known = std::string_view{role} == "substitution";
            char const* const pins = known ? "pinned" : "unpinned";
            text += fmt::format(
                "\n[[cord]]\nid = \"{0}-{1}\"\nrole = \"{0}\"\ntype = \"{2}\"\nfamily = \"{3}\"\nlength = "
                "\"2 m\"\ngrade = \"reference\"\npins-near = \"{4}\"\npins-far = \"{4}\"\nface = \"{5}\"\n",
                role, kit, reference->family == "mpo-24" ? (known ? "I-A" : "I-B") : (known ? "A" : "B"),
                reference->family, pins, face);
        }
    }
    return text;
}

verdict::ReadingColumns readings_of(simulate::Site const& site)
{
    verdict::ReadingColumns columns;
    columns.reserve(site.readings.size());
    for (plant::LinkSpec const& link : site.links) columns.links.index_of(link.id);
    for (simulate::Reference const& reference : site.references) columns.references.index_of(reference.id);
    std::uint32_t const who = columns.operators.index_of("Simulation");
    for (simulate::Reading const& reading : site.readings) {
        columns.link.push_back(reading.link);
        columns.launch_end.push_back(reading.from_b ? verdict::LaunchEnd::b : verdict::LaunchEnd::a);
        columns.position.push_back(reading.position);
        columns.far_position.push_back(reading.far_position);
        columns.wavelength_nm.push_back(reading.wavelength_nm);
        columns.value.push_back(reading.attenuation_db);
        columns.length_m.push_back(reading.length_m);
        columns.taken_ms.push_back(reading.taken_ms);
        columns.offset_minutes.push_back(0);
        columns.reference.push_back(reading.reference);
        columns.operator_name.push_back(who);
        columns.line.push_back(0);
    }
    return columns;
}

std::map<std::string, std::string> reference_files(simulate::Site const& site)
{
    std::map<std::string, intake::ReferencePowers> powers;
    for (simulate::Reference const& reference : site.references) {
        intake::ReferencePowers& into = powers[kit_of(reference)];
        std::uint32_t const id = into.references.index_of(reference.id);
        for (simulate::ReferencePower const& power : reference.powers) {
            into.reference.push_back(id);
            into.position.push_back(power.position);
            into.wavelength_nm.push_back(power.wavelength_nm);
            into.power_dbm.push_back(power.power_dbm);
            into.taken_ms.push_back(power.taken_ms);
            into.offset_minutes.push_back(0);
            into.line.push_back(0);
        }
    }
    std::map<std::string, std::string> files;
    for (auto const& [kit, columns] : powers) files[kit] = intake::reference_csv(columns);
    return files;
}

std::string checks_file(simulate::Site const& site)
{
    intake::CordChecks checks;
    for (simulate::Reference const& reference : site.references) {
        std::uint32_t const check = checks.checks.index_of("C-" + reference.id);
        std::uint32_t const id = checks.references.index_of(reference.id);
        for (simulate::Reading const& reading : reference.check) {
            checks.check.push_back(check);
            checks.reference.push_back(id);
            checks.position.push_back(reading.position);
            checks.far_position.push_back(reading.far_position);
            checks.wavelength_nm.push_back(reading.wavelength_nm);
            checks.value.push_back(reading.attenuation_db);
            checks.length_m.push_back(reading.length_m);
            checks.taken_ms.push_back(reading.taken_ms);
            checks.offset_minutes.push_back(0);
            checks.line.push_back(0);
        }
    }
    return intake::cord_check_csv(checks);
}

std::string names(simulate::Site const& site, std::vector<std::uint32_t> const& links)
{
    std::vector<std::string> parts;
    for (std::uint32_t const link : links) parts.push_back(site.links[link].id);
    return joined(parts, " ");
}

std::string numbers(std::vector<int> const& positions)
{
    std::vector<std::string> parts;
    for (int const position : positions) parts.push_back(std::to_string(position));
    return joined(parts, " ");
}

std::string truth_file(simulate::Site const& site)
{
    std::string text = "cause,links,positions,size_db,reference,since,detail\r\n";
    for (simulate::Truth const& truth : site.truths) {
        bool const session = truth.reference >= 0;
        text += fmt::format("{},{},{},{},{},{},{}\r\n", id_of(truth.fault),
                            csv_cell(names(site, truth.links)), csv_cell(numbers(truth.positions)),
                            truth.size_db == 0 ? "" : fixed_text(truth.size_db, 3),
                            session ? site.references[static_cast<std::size_t>(truth.reference)].id : "",
                            session ? site.links[truth.first].id : "", csv_cell(truth.detail));
    }
    return text;
}

Result<int> run_simulate(Arguments const& arguments, World& world)
{
    simulate::Design design;
    TRY_ASSIGN(int const links, arguments.integer("--links"));
    TRY_ASSIGN(int const seed, arguments.integer("--seed"));
    if (links < 1) return Error{Errc::usage, "--links must be at least 1"};
    if (seed < 0) return Error{Errc::usage, "--seed must be at least 0"};
    design.links = static_cast<std::size_t>(links);
    design.seed = static_cast<std::uint64_t>(seed);
    TRY_ASSIGN(design.faults, simulate::parse_wishes(arguments.text("--faults")));
    design.both_directions = arguments.text("--directions") == "2";
    TRY_ASSIGN(auto const site, simulate::simulate(design));

    std::string const out = arguments.text("--out");
    Json files = Json::array();
    TRY(job::make_folder(path_in(world, out)));
    auto const keep = [&](std::string const& name, std::string const& bytes) -> Outcome {
        TRY(job::write_file(path_in(world, out + "/" + name), bytes));
        files.push_back(name);
        return {};
    };
    TRY(keep("job.toml", job_sheet(site, design)));
    TRY(keep("schedule.csv", intake::schedule_csv(site.links)));
    auto const references = reference_files(site);
    for (auto const& [kit, bytes] : references) TRY(keep("references-" + kit + ".csv", bytes));
    TRY(keep("cord-checks.csv", checks_file(site)));
    TRY(keep("readings.csv", intake::readings_csv(readings_of(site))));
    TRY(keep("truth.csv", truth_file(site)));

    if (world.json) {
        Json truths = Json::array();
        for (simulate::Truth const& truth : site.truths) {
            Json affected = Json::array();
            for (std::uint32_t const link : truth.links) affected.push_back(site.links[link].id);
            truths.push_back({{"cause", id_of(truth.fault)},
                              {"links", affected},
                              {"positions", truth.positions},
                              {"size_db", truth.size_db == 0 ? Json(nullptr) : Json(truth.size_db)},
                              {"detail", truth.detail}});
        }
        world.out += Json{{"links", site.links.size()},
                          {"references", site.references.size()},
                          {"readings", site.readings.size()},
                          {"files", files},
                          {"faults", truths}}
                         .dump(2, ' ', false, damaged_text) +
                     "\n";
        return 0;
    }
    world.out +=
        fmt::format("{}, {}, {}, {} in {}\n", counted(site.links.size(), "link"),
                    counted(site.references.size(), "reference"), counted(site.readings.size(), "reading"),
                    counted(site.truths.size(), "fault"), out);
    world.out += "To import it into a job:\n";
    world.out += fmt::format("  guidepin new site.guidepin --sheet {}/job.toml\n", out);
    world.out += fmt::format("  guidepin schedule site.guidepin {}/schedule.csv\n", out);
    for (auto const& [kit, bytes] : references) {
        world.out += fmt::format(
            "  guidepin reference site.guidepin {0}/references-{1}.csv --source source-{1} --meter meter-{1} "
            "--launch launch-{1} --tail tail-{1} --substitution substitution-{1}\n",
            out, kit);
    }
    world.out += fmt::format("  guidepin cord-check site.guidepin {}/cord-checks.csv\n", out);
    world.out += fmt::format("  guidepin readings site.guidepin {}/readings.csv\n", out);
    return 0;
}

constexpr std::array simulate_options{
    Option{"--links", "N", "number of links", false, false, "120"},
    Option{"--seed", "S", "the same seed gives the same site", false, false, "1"},
    Option{"--faults", "LIST",
           "the faults: macrobend, macrobend:3, macrobend:3@0.5 (three of 0.5 dB), several with commas; all, "
           "all:4, none",
           false, false, "none"},
    Option{"--directions", "N", "1: measured from end A only, 2: from both ends", false, false, "1", "1,2"},
    Option{"--out", "FOLDER", "the folder to write", true},
};

} // namespace

Command const simulate_command{
    "simulate",
    "Invent a site with known faults, for tests and practice",
    "Draws links, references, cord checks and readings from the physics of joints and fibre, adds the faults "
    "that you ask for, and writes plain CSV with a job sheet; truth.csv lists each fault and its place. None "
    "of it was ever measured.",
    "simulate --links 60 --seed 7 --faults macrobend,crossed-fibres --out practice",
    simulate_options,
    &run_simulate};

} // namespace guidepin::cli
