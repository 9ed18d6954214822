// SPDX-License-Identifier: Apache-2.0
#include "facts/tables.hpp"

#include "base/hash.hpp"
#include "base/text.hpp"
#include "facts/readers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <memory>
#include <stdexcept>

namespace guidepin::facts {

std::span<Asset const> embedded_assets(); // made by cmake/Embed.cmake

namespace {

struct FileKind
{
    std::string_view name;
    void (*read)(Section&, Sources const&, Gathering&);
};

void read_published_rule_set(Section& file, Sources const& sources, Gathering& into)
{
    RuleSet rules;
    std::vector<Fact> own;
    read_rule_set(file, sources, into.tables(), rules, own);
    for (auto const& fact : own) into.add(file, fact);
    into.tables().rule_sets.push_back(std::move(rules));
}

void read_nothing_more(Section&, Sources const&, Gathering&) {}

/// In the order in which they are read: what is referred to comes first.
constexpr std::array<FileKind, 12> file_kinds{{
    {"fibres", &read_fibres},
    {"connections", &read_connections},
    {"rule-set", &read_published_rule_set},
    {"ports", &read_ports},
    {"reflectance", &read_reflectance},
    {"applications", &read_applications},
    {"colours", &read_colours},
    {"uncertainty", &read_uncertainty},
    {"readiness", &read_nothing_more},
    {"causes", &read_nothing_more},
    {"launch", &read_nothing_more},
    {"end-faces", &read_end_faces},
}};

struct OpenFile
{
    Node root;
    Log log;
    std::unique_ptr<Section> section;
    std::string kind;
};

/// Returns the known names if they are few enough to list.
std::string all_of(std::vector<std::string> const& known)
{
    return known.size() <= 12 ? fmt::format("; there is {}", joined(known, ", ")) : "";
}

template <class Rows, class Name>
auto find_row(Rows const& rows, std::string_view id, Name name) -> decltype(&rows[0])
{
    for (auto const& row : rows) {
        if (name(row) == id) return &row;
    }
    return nullptr;
}

} // namespace

char const* name_of(FibreKind kind)
{
    return kind == FibreKind::multimode ? "multimode" : "single-mode";
}
char const* name_of(CordGrade grade)
{
    return grade == CordGrade::reference ? "reference" : "standard";
}

std::optional<FibreKind> parse_fibre_kind(std::string_view text)
{
    if (text == "multimode") return FibreKind::multimode;
    if (text == "single-mode") return FibreKind::single_mode;
    return std::nullopt;
}

std::optional<CordGrade> parse_cord_grade(std::string_view text)
{
    if (text == "reference") return CordGrade::reference;
    if (text == "standard") return CordGrade::standard;
    return std::nullopt;
}

bool Gathering::claim(Section const& section, std::string const& id)
{
    if (ids_.insert(id).second) return true;
    section.say(fmt::format("`{}` is given twice in the tables", id));
    return false;
}

void Gathering::add(Section const& section, Fact const& fact)
{
    if (claim(section, fact.id)) tables_->facts.push_back(fact);
}

void read_loose_facts(Section& file, Sources const& sources, Gathering& into)
{
    for (auto& row : file.tables("fact")) {
        std::string const id = row.text("id");
        std::string const quantity = row.text("quantity");
        auto const fact = read_fact(row, sources, id, quantity, Expected{"*"});
        row.finish();
        if (fact) into.add(row, *fact);
    }
}

Result<Tables> load_tables(std::span<NamedText const> files)
{
    Tables tables;
    std::vector<std::string> problems;
    std::vector<std::unique_ptr<OpenFile>> open;
    std::string all;
    for (auto const& file : files) {
        all += fmt::format("{}\n{}\n", file.name, file.text);
        auto root = parse_tree(file.name, file.text);
        if (!root) {
            problems.push_back(root.error().message);
            continue;
        }
        auto one = std::make_unique<OpenFile>(OpenFile{std::move(root).value(), Log{file.name}, nullptr, ""});
        one->section = std::make_unique<Section>(one->root, "file", one->log);
        if (one->section->text("format") != "guidepin-facts") {
            one->section->say("the first line of a file of facts is: format = \"guidepin-facts\"");
        }
        one->kind = one->section->text("kind");
        if (std::none_of(file_kinds.begin(), file_kinds.end(),
                         [&](FileKind const& kind) { return kind.name == one->kind; })) {
            one->section->say(fmt::format("kind `{}` is not known", one->kind));
        }
        open.push_back(std::move(one));
    }
    Gathering into{tables};
    for (auto const& kind : file_kinds) {
        for (auto& one : open) {
            if (one->kind != kind.name) continue;
            Sources const sources = read_sources(*one->section);
            kind.read(*one->section, sources, into);
            read_loose_facts(*one->section, sources, into);
            one->section->finish();
        }
    }
    for (auto const& one : open)
        problems.insert(problems.end(), one->log.lines().begin(), one->log.lines().end());
    if (!problems.empty()) return error_of(problems);
    tables.version = fmt::format("{:016x}", fast_hash(all));
    return tables;
}

Tables const& built_in_tables()
{
    static Tables const tables = [] {
        std::vector<NamedText> files;
        for (Asset const& asset : embedded_assets()) {
            files.push_back(NamedText{std::string{asset.name}, std::string{asset.bytes}});
        }
        auto loaded = load_tables(files);
        // A test reads each of these files, so this is a bug of the build: main() says what to do about it.
        if (!loaded)
            throw std::logic_error("the tables inside the program are wrong: " + loaded.error().message);
        return std::move(loaded).value();
    }();
    return tables;
}

Result<FibreCategory const*> Tables::category(std::string_view id) const
{
    if (auto const* row = find_row(categories, id, [](auto const& r) -> std::string const& { return r.id; }))
        return row;
    std::vector<std::string> known;
    for (auto const& row : categories) known.push_back(row.id);
    return Error{Errc::not_found,
                 fmt::format("No fibre category `{}`{}", id, did_you_mean(id, known, all_of(known)))};
}

Result<RuleSet const*> Tables::rule_set(std::string_view id) const
{
    if (auto const* row = find_row(rule_sets, id, [](auto const& r) -> std::string const& { return r.id; }))
        return row;
    std::vector<std::string> known;
    for (auto const& row : rule_sets) known.push_back(row.id);
    return Error{Errc::not_found,
                 fmt::format("No rule set `{}`{}", id, did_you_mean(id, known, all_of(known)))};
}

Result<Application const*> Tables::application(std::string_view id_or_name) const
{
    for (auto const& row : applications) {
        if (row.id == id_or_name || row.name == id_or_name) return &row; // the ordinary case, without a copy
    }
    std::string const wanted = lowered(id_or_name);
    std::vector<std::string> known;
    for (auto const& row : applications) {
        if (lowered(row.id) == wanted || lowered(row.name) == wanted) return &row;
        if (std::any_of(row.aliases.begin(), row.aliases.end(),
                        [&](std::string const& alias) { return lowered(alias) == wanted; })) {
            return &row;
        }
        known.push_back(row.name);
        known.push_back(row.id);
    }
    return Error{Errc::not_found, fmt::format("No application `{}`{}", id_or_name,
                                              did_you_mean(id_or_name, known, all_of(known)))};
}

LaneMap const* Tables::lane_map(std::string_view id) const
{
    return find_row(lane_maps, id, [](auto const& r) -> std::string const& { return r.id; });
}
ReflectanceRule const* Tables::reflectance_rule(std::string_view id) const
{
    return find_row(reflectance_rules, id, [](auto const& r) -> std::string const& { return r.id; });
}
ConnectionGrade const* Tables::grade(std::string_view id) const
{
    return find_row(grades, id, [](auto const& r) -> std::string const& { return r.id; });
}
Fact const* Tables::fact(std::string_view id) const
{
    return find_row(facts, id, [](auto const& r) -> std::string const& { return r.id; });
}

} // namespace guidepin::facts
