// SPDX-License-Identifier: Apache-2.0
// The tables of a package against those that its records give: line by line, as both are written the same
// way.
#include "base/csv_cell.hpp"
#include "base/text.hpp"
#include "job/files/files.hpp"
#include "job/handover/audit_looks.hpp"
#include "job/paper/tables_of.hpp"
#include "record/canonical_json.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace guidepin::job::detail {

namespace {

/// Which rule a column of a table belongs to.
std::string_view rule_of(std::string const& table, std::string const& column)
{
    if (column == "limit_db" || column == "worst_limit_db" || (table == "values" && column == "value"))
        return "limit-differs";
    if (column == "state" || column == "failed_fibres" || column == "worst_margin_db" ||
        column == "probability_of_conformity" || column == "worst_position" ||
        column == "worst_wavelength_nm" || column == "superseded")
        return "verdict-differs";
    if (column == "attenuation_db" || column == "worst_attenuation_db" || column == "length_m" ||
        column == "far_position" || column == "taken_at")
        return "reading-differs";
    return "text-differs";
}

/// Texts of a line of CSV (RFC 4180), without its line end and without the guards of formulas.
std::vector<std::string> csv_fields(std::string_view line)
{
    std::vector<std::string> fields(1);
    bool quoted = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
        char const letter = line[i];
        if (quoted && letter == '"' && i + 1 < line.size() && line[i + 1] == '"') {
            fields.back() += letter;
            ++i;
        } else if (letter == '"') {
            quoted = !quoted;
        } else if (letter == ',' && !quoted) {
            fields.emplace_back();
        } else {
            fields.back() += letter;
        }
    }
    for (std::string& field : fields) field = formula_unguarded(field);
    return fields;
}

/// Cells of a row of JSON as text: "  [1,"a",null],".
std::vector<std::string> json_cells(std::string_view line)
{
    line = trimmed(line);
    if (line.ends_with(',')) line.remove_suffix(1);
    auto const value = record::parse_json(line);
    if (!value || !value->array()) return {};
    std::vector<std::string> cells;
    for (record::JsonValue const& cell : *value->array()) {
        auto text = cell.string() ? Result<std::string>(*cell.string()) : record::canonical_json(cell);
        cells.push_back(text ? *text : std::string{});
    }
    return cells;
}

/// Compares a file with what ought to stand in it, as that is written piece by piece.
class Comparison
{
  public:
    Comparison(std::string_view bytes, bool json, report::Table const& table)
        : rest_(bytes)
        , json_(json)
        , table_(table)
    {
    }

    bool take(std::string_view piece)
    {
        while (!piece.empty()) {
            auto const end = piece.find('\n');
            if (end == std::string_view::npos) {
                line_ += piece;
                return true;
            }
            line_ += piece.substr(0, end + 1);
            piece.remove_prefix(end + 1);
            line();
            line_.clear();
        }
        return true;
    }

    struct Difference
    {
        std::size_t cells = 0;
        std::string first; ///< in words
        std::set<std::string> links;
    };
    /// Compared to the end; false where the number of lines is another.
    bool finish()
    {
        if (!line_.empty()) line();
        return !more_missing_ && rest_.empty();
    }
    std::map<std::string_view, Difference> const& differences() const { return differences_; }
    bool rows_differ() const { return rows_; }

  private:
    void line()
    {
        std::size_t const end = rest_.find('\n');
        std::string_view const found =
            rest_.substr(0, end == std::string_view::npos ? rest_.size() : end + 1);
        if (found.empty()) more_missing_ = true;
        rest_.remove_prefix(found.size());
        if (found == line_) return;
        auto const wanted = cells_of(line_), here = cells_of(found);
        if (wanted.size() != table_.columns.size() || here.size() != wanted.size()) {
            rows_ = true;
            return;
        }
        // The first column names the row; another name there is another row.
        if (wanted.front() != here.front()) rows_ = true;
        for (std::size_t i = 1; i < wanted.size(); ++i) {
            if (wanted[i] == here[i]) continue;
            Difference& difference = differences_[rule_of(table_.name, table_.columns[i].id)];
            if (difference.cells++ == 0)
                difference.first = fmt::format("{} {} is \"{}\", the records give \"{}\"", wanted.front(),
                                               table_.columns[i].id, here[i], wanted[i]);
            difference.links.insert(wanted.front());
        }
    }
    std::vector<std::string> cells_of(std::string_view text) const
    {
        text = trimmed(text);
        return json_ ? json_cells(text) : csv_fields(text);
    }

    std::string_view rest_;
    bool json_;
    report::Table const& table_;
    std::string line_;
    std::map<std::string_view, Difference> differences_;
    bool rows_ = false, more_missing_ = false;
};

} // namespace

Outcome look_at_tables(Looking const& looking, std::string const& folder,
                       std::set<std::string> const& present, Manifest const* manifest)
{
    // Other tables of values may give other limits: that is a difference to look at, not a proof of anything.
    bool const other = manifest && manifest->facts != looking.state.tables.version;
    if (other)
        add(looking.report, "other-values", "", {},
            fmt::format("the package was made with tables of values {}, this program has {}: where limits or "
                        "verdicts "
                        "differ, either may be the reason",
                        manifest->facts, looking.state.tables.version));
    auto const weight = other ? std::optional(Weight::weakens) : std::nullopt;
    for (report::Table const& table : tables_of(looking.state, looking.assessment, looking.tables)) {
        for (bool const json : {true, false}) {
            std::string const name = table.name + (json ? ".json" : ".csv");
            if (!present.contains(name)) continue; // Where the manifest names it, it was missed already.
            TRY_ASSIGN(auto const mapped, MappedFile::open(folder + "/" + name));
            Comparison comparison(mapped.bytes(), json, table);
            auto const sink = [&](std::string_view bytes) { return comparison.take(bytes); };
            TRY(json ? report::write_json(table, sink) : report::write_csv(table, sink));
            bool const same_length = comparison.finish();
            if (!same_length || comparison.rows_differ()) {
                add(looking.report, "rows-differ", name, {},
                    fmt::format("{} has {} rows than the records give", name,
                                same_length ? "other" : "more, or fewer,"));
                continue;
            }
            for (auto const& [rule, difference] : comparison.differences()) {
                std::vector<std::string> links;
                if (table.name != "values")
                    for (std::string const& link : difference.links)
                        if (looking.state.link_index.contains(link)) links.push_back(link);
                std::sort(links.begin(), links.end(), [&](auto const& a, auto const& b) {
                    return looking.state.link_index.at(a) < looking.state.link_index.at(b);
                });
                bool const follows = rule != "reading-differs";
                add(looking.report, rule, name, std::move(links),
                    fmt::format("{}: {}{}", name, difference.first,
                                difference.cells > 1 ? fmt::format("; {} cells differ", difference.cells)
                                                     : ""),
                    follows ? weight : std::nullopt);
            }
        }
    }
    return {};
}

} // namespace guidepin::job::detail
