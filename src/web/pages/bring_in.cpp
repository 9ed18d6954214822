// SPDX-License-Identifier: Apache-2.0
// Files to bring in, each with a preview: the columns as understood, what would come in, and what is wrong.
#include "web/frame.hpp"
#include "web/pages/pages.hpp"
#include "web/pages/reference_typing.hpp"
#include "web/pages/upload.hpp"

#include "base/text.hpp"
#include "intake/column_choice.hpp"
#include "job/files/files.hpp"
#include "record/digest.hpp"

#include <algorithm>
#include <array>
#include <filesystem>
#include <set>

#include <fmt/format.h>

namespace guidepin::web {

namespace {

constexpr std::uintmax_t largest_watched = 16U << 20U;
constexpr std::size_t most_watched = 50;
constexpr std::size_t shown_at_first = 12;

struct Watched
{
    std::string id, name, path;
};

/// Plain files of the watched folder that may be readings, by name. A file is named by a hash, never by a
/// path that came from outside.
std::vector<Watched> watched_files(Desk const& desk)
{
    std::vector<Watched> files;
    if (desk.settings().watch_folder.empty()) return files;
    std::error_code trouble;
    for (auto const& entry : std::filesystem::directory_iterator(desk.settings().watch_folder, trouble)) {
        std::error_code ignored;
        if (!entry.is_regular_file(ignored) || entry.is_symlink(ignored)) continue;
        std::string const ending = lowered(entry.path().extension().string());
        if ((ending != ".csv" && ending != ".txt" && ending != ".tsv") ||
            entry.file_size(ignored) > largest_watched)
            continue;
        std::string const name = entry.path().filename().string();
        files.push_back({record::sha256(name).hex().substr(0, 24), name, entry.path().string()});
    }
    std::sort(files.begin(), files.end(), [](auto const& a, auto const& b) { return a.name < b.name; });
    if (files.size() > most_watched) files.resize(most_watched);
    return files;
}

job::FileOptions options_of(Stashed const& file)
{
    job::FileOptions options;
    options.column_map_text = file.column_map;
    if (!file.column_map.empty()) options.column_map_name = "column map";
    return options;
}

job::ReadingsOptions how_of(Stashed const& file)
{
    job::ReadingsOptions how;
    how.reference = file.reference;
    how.instrument_positions = file.instrument_positions;
    return how;
}

/// Our plain layout needs no map; anything else gets a proposed one.
Outcome stash_readings(Desk& desk, std::string name, std::string bytes, std::string& id)
{
    Stashed file;
    file.name = std::move(name);
    file.bytes = std::move(bytes);
    auto const plain = desk.job().preview_readings(file.name, file.bytes, {}, {});
    if (!plain || plain->rows == 0) {
        TRY_ASSIGN(file.column_map,
                   intake::propose_column_map(file.bytes, intake::LayoutKind::readings, file.name));
    }
    id = desk.stash(std::move(file));
    return {};
}

Html imports(Desk const& desk, Exchange const& exchange)
{
    Html rows, older;
    std::size_t shown = 0;
    auto const& files = desk.job().state().files;
    for (auto file = files.rbegin(); file != files.rend(); ++file) {
        Html last;
        if (!file->withdrawn.empty()) {
            last = html("withdrawn: {}", file->withdrawn);
        } else if (file->layout == "readings" && exchange.may(Access::lead)) {
            last = html(R"(<details><summary>Withdraw</summary>{}<input type="hidden" name="station" )"
                        R"(value="{}"><input type="hidden" name="sequence" value="{}"><label>Why)"
                        R"(<input name="reason" required maxlength="400"></label>)"
                        "<button>Withdraw {}</button>{}</details>",
                        form(exchange, "/bring-in/withdraw"), file->station, file->sequence, file->name,
                        end_form());
        } else {
            last = html("in use");
        }
        (++shown > shown_at_first ? older : rows) +=
            html(R"(<tr><th scope="row" class="breakable">{}</th><td data-label="Content">{}</td>)"
                 R"(<td data-label="Brought in">{}</td><td data-label="By">{}</td>)"
                 R"(<td data-label="Now">{}</td></tr>)"
                 "\n",
                 file->name, in_words(file->layout), time_mark(desk, file->recorded), file->person, last);
    }
    if (rows.empty())
        return html(R"(<p class="quiet">Nothing yet.</p>)"
                    "\n");
    auto const table = [](Html const& lines) {
        return html(R"(<table class="cards even"><thead><tr><th scope="col">File</th>)"
                    R"(<th scope="col">Content</th><th scope="col">Brought in</th>)"
                    R"(<th scope="col">By</th><th scope="col">Now</th></tr></thead><tbody>)"
                    "\n{}</tbody></table>\n",
                    lines);
    };
    return table(rows) + (older.empty() ? Html{}
                                        : html("<details><summary>{} older</summary>{}</details>\n",
                                               shown - shown_at_first, table(older)));
}

Html names(std::vector<std::string> const& list, std::size_t most)
{
    std::vector<std::string> const first(
        list.begin(), list.begin() + static_cast<std::ptrdiff_t>(std::min(most, list.size())));
    return html("{}{}", joined(first, ", "),
                list.size() > most ? fmt::format(" and {} more", list.size() - most) : std::string{});
}

/// The first lines of the file, so that a person can compare them with the preview.
Html first_lines(std::string_view bytes)
{
    std::string text;
    int lines = 0;
    for (std::string_view const line : split(bytes.substr(0, 4000), '\n')) {
        if (++lines > 6) break;
        text += std::string(trimmed(line).substr(0, 200)) + "\n";
    }
    return html(R"(<pre tabindex="0">{}</pre>)"
                "\n",
                is_utf8(text) ? text : "The file is not UTF-8 text.");
}

Html understood(Desk const& desk, job::ReadingsPreview const& preview)
{
    Html rows;
    for (auto const& sample : preview.first)
        rows += html(R"(<tr><th scope="row">{}</th><td>{}</td><td class="number">{}</td>)"
                     R"(<td class="number">{}</td><td class="number">{}</td><td>{}</td><td>{}</td></tr>)"
                     "\n",
                     sample.link, sample.end, sample.position, sample.wavelength_nm, sample.value,
                     with_times(desk, sample.taken), sample.reference);
    return html(R"(<div class="scroll"><table class="tight">)"
                "<caption>The first rows as they were understood</caption><thead><tr>"
                R"(<th scope="col">Link</th><th scope="col">From</th>)"
                R"(<th scope="col" class="number">Position</th>)"
                R"(<th scope="col" class="number">nm</th><th scope="col" class="number">Value</th>)"
                R"(<th scope="col">Taken</th><th scope="col">Reference</th></tr></thead><tbody>)"
                "\n{}</tbody></table></div>\n",
                rows);
}

Html what_comes_in(Desk const& desk, job::ReadingsPreview const& preview)
{
    Html body = html(R"(<dl class="facts">{}{}{}</dl>)"
                     "\n",
                     fact("Readings", fmt::format("{}", preview.rows)),
                     fact("Links tested for the first time", fmt::format("{}", preview.new_links)),
                     fact("Links tested again", fmt::format("{}", preview.retested)));
    if (!preview.unknown_links.empty())
        body += html(R"(<p class="notice hint">Not in the schedule, so these links would stay open: )"
                     "{}</p>\n",
                     names(preview.unknown_links, 12));
    if (preview.repeated_rows > 0)
        body += html(R"(<p class="quiet">{} rows repeat an earlier row; each is saved once.</p>)"
                     "\n",
                     preview.repeated_rows);
    if (!preview.already.empty())
        body += html(R"(<p class="notice bad" role="alert">This file came in before, as {}. If you )"
                     "bring it in again, each of its links counts as tested twice.</p>\n",
                     with_times(desk, preview.already));
    for (std::string const& warning : preview.warnings)
        body += html(R"(<p class="notice hint">{}</p>)"
                     "\n",
                     warning);
    if (!preview.unused_columns.empty())
        body += html(R"(<p class="quiet">Columns not used: {}</p>)"
                     "\n",
                     names(preview.unused_columns, 20));
    if (preview.bad_rows > 0) {
        Html list;
        for (std::size_t i = 0; i < preview.bad.size() && i < 12; ++i)
            list += html("<li>{}</li>\n", intake::problem_text(preview.bad[i]));
        body += html(R"(<div class="notice bad" role="alert"><p>{} with errors:</p><ul>{}</ul></div>)"
                     "\n",
                     preview.bad_rows == 1 ? std::string{"1 row"} : fmt::format("{} rows", preview.bad_rows),
                     list);
    }
    return body;
}

/// What a column of readings is called on the page; `name` is its id in a column map.
std::string column_words(std::string_view name)
{
    constexpr std::array<std::pair<std::string_view, char const*>, 11> words{
        {{"link", "Link"},
         {"launch_end", "Launch end"},
         {"position", "Position"},
         {"far_position", "Far position"},
         {"wavelength_nm", "Wavelength, nm"},
         {"attenuation_db", "Attenuation, dB"},
         {"power_dbm", "Power, dBm"},
         {"length_m", "Length, m"},
         {"taken_at", "Time"},
         {"reference", "Reference"},
         {"operator", "Measured by"}}};
    for (auto const& [id, shown] : words) {
        if (id == name) return shown;
    }
    return in_words(name);
}

/// Whether a column that the file must have is still missing. Columns of one group replace each other.
bool still_missing(std::vector<intake::ColumnChoice> const& choices, std::size_t i)
{
    auto const columns = intake::columns_of(intake::LayoutKind::readings);
    if (!columns[i].required) return false;
    for (std::size_t k = 0; k < choices.size(); ++k) {
        bool const stands_in = k == i || (!columns[i].group.empty() && columns[k].group == columns[i].group);
        if (stands_in &&
            (choices[k].as_written || !choices[k].header.empty() || !choices[k].constant.empty()))
            return false;
    }
    return true;
}

/// What to choose before the file can be understood; empty when nothing.
std::string wanted(Stashed const& file)
{
    if (file.column_map.empty()) return {};
    auto const choices = intake::column_choices(file.column_map, intake::LayoutKind::readings);
    auto const columns = intake::columns_of(intake::LayoutKind::readings);
    std::vector<std::string> list;
    std::set<std::string_view> groups;
    for (std::size_t i = 0; i < choices.size(); ++i) {
        if (!still_missing(choices, i)) continue;
        if (!columns[i].group.empty() && !groups.insert(columns[i].group).second) continue;
        list.push_back(fmt::format("{} ({})", lowered(column_words(columns[i].name)), columns[i].meaning));
    }
    return joined(list, ", ");
}

/// Which header fills which column, without writing TOML; the rest of the map does not change.
Html choices_form(Desk const& desk, Exchange const& exchange, Stashed const& file)
{
    Html fields;
    auto const headers = intake::headers_of(file.bytes);
    if (!file.column_map.empty() && headers) {
        auto const choices = intake::column_choices(file.column_map, intake::LayoutKind::readings);
        auto const columns = intake::columns_of(intake::LayoutKind::readings);
        for (std::size_t i = 0; i < choices.size(); ++i) {
            intake::ColumnChoice const& choice = choices[i];
            Html options = choice.as_written
                               ? html(R"(<option value="=" selected>as the text below says</option>)")
                               : Html{};
            options += html(R"(<option value="">not in the file</option>)");
            for (std::size_t h = 0; h < headers->size(); ++h)
                options += !choice.as_written && (*headers)[h] == choice.header
                               ? html(R"(<option value="{}" selected>{}</option>)", h, (*headers)[h])
                               : html(R"(<option value="{}">{}</option>)", h, (*headers)[h]);
            std::string const name(columns[i].name), words = column_words(name);
            fields +=
                html(R"(<tr><th scope="row">{}{}</th><td class="quiet">{}</td><td>)"
                     R"(<select name="from-{}" aria-label="Column of the file for {}">{}</select></td>)"
                     R"(<td><input name="constant-{}" value="{}" aria-label="The same {} for every row" )"
                     R"(autocomplete="off" maxlength="200"></td></tr>)"
                     "\n",
                     words, still_missing(choices, i) ? html(" <strong>needed</strong>") : Html{},
                     columns[i].meaning, name, words, options, name, choice.constant, words);
        }
        fields = html(R"(<table class="cards even choices"><thead><tr><th scope="col">Value</th>)"
                      R"(<th scope="col">Meaning</th><th scope="col">Column of the file</th>)"
                      R"(<th scope="col">or the same for every row</th></tr></thead><tbody>)"
                      "\n{}</tbody></table>\n",
                      fields);
    }
    Html references = html(R"(<option value="">as the file says</option>)");
    for (auto const& reference : desk.job().state().references)
        references += reference.id == file.reference
                          ? html(R"(<option value="{}" selected>{}</option>)", reference.id, reference.id)
                          : html(R"(<option value="{}">{}</option>)", reference.id, reference.id);
    return html(R"({}<input type="hidden" name="file" value="{}">{})"
                R"(<input type="hidden" name="choices" value="yes">)"
                "\n"
                R"(<div class="filters"><label>Reference of rows that name none)"
                R"(<select name="reference">{}</select></label>)"
                "\n"
                R"(<label>Positions are numbered<select name="positions">)"
                R"(<option value="cabling">on the cabling's plugs</option>)"
                R"(<option value="instrument"{}>as the instrument shows )"
                "them</option></select></label></div>\n"
                R"(<button class="quiet">Update the preview</button>{})"
                "\n",
                form(exchange, "/bring-in/map"), file.id, fields, references,
                file.instrument_positions ? html(" selected") : Html{}, end_form());
}

/// The map with what a person chose in the form.
std::string chosen(Exchange const& exchange, Stashed const& file)
{
    std::string map = file.column_map;
    auto const headers = intake::headers_of(file.bytes);
    if (!headers) return map;
    for (intake::ColumnChoice choice : intake::column_choices(map, intake::LayoutKind::readings)) {
        std::string const from = exchange.text("from-" + choice.column);
        if (!exchange.fields.contains("from-" + choice.column) || from == "=") continue;
        auto const index = parse_integer(from);
        choice.header = index && *index >= 0 && *index < static_cast<std::int64_t>(headers->size())
                            ? (*headers)[static_cast<std::size_t>(*index)]
                            : std::string{};
        choice.constant = std::string(trimmed(exchange.text("constant-" + choice.column)).substr(0, 200));
        map = intake::with_choice(map, choice);
    }
    return map;
}

} // namespace

Result<Reply> bring_in_page(Desk& desk, Exchange const& exchange)
{
    Html body = html("<h1>Bring in</h1>\n");
    if (exchange.may(Access::enter)) {
        body += html(R"(<section id="readings"><h2>Readings</h2>{})"
                     R"(<label class="drop">A file with readings: choose it or drop it here)"
                     R"(<input type="file" name="file" accept=".csv,.tsv,.txt,text/csv" )"
                     "required></label>\n"
                     R"(<p class="quiet">You see a preview before anything is saved. At most 16 MB.</p>)"
                     "<button>Preview</button>{}</section>\n",
                     form(exchange, "/bring-in/look"), end_form());
        Html found;
        for (Watched const& file : watched_files(desk))
            found += html(R"(<li>{}<input type="hidden" name="watched" value="{}">)"
                          R"(<span class="breakable">{}</span> <button class="quiet">Preview</button>{}</li>)"
                          "\n",
                          form(exchange, "/bring-in/look", "inline"), file.id, file.name, end_form());
        if (!desk.settings().watch_folder.empty())
            body += html("<section><h2>In the watched folder</h2>{}</section>\n",
                         found.empty() ? html(R"(<p class="quiet">Nothing there.</p>)")
                                       : html(R"(<ul class="plain-list">{}</ul>)", found));
        body += html(R"(<section id="schedule"><h2>Schedule</h2>{})"
                     R"(<label class="drop">A file with the links)"
                     R"(<input type="file" name="file" accept=".csv,.tsv,.txt,text/csv" )"
                     "required></label>\n"
                     R"(<p class="quiet">One row per link. A new row replaces an earlier row of the )"
                     "same link; its readings stay.</p><button>Bring in the "
                     "schedule</button>{}</section>\n",
                     form(exchange, "/bring-in/schedule"), end_form());
    }
    body += html(R"(<section class="scroll"><h2>Imported files</h2>{}</section>)"
                 "\n",
                 imports(desk, exchange));
    return framed(desk, exchange, "Bring in", body);
}

Result<Reply> look_at_file(Desk& desk, Exchange const& exchange)
{
    std::string id;
    if (exchange.has("watched")) {
        for (Watched const& file : watched_files(desk)) {
            if (file.id != exchange.text("watched")) continue;
            TRY_ASSIGN(std::string bytes, job::read_file(file.path));
            TRY(stash_readings(desk, shown_name(file.name), std::move(bytes), id));
        }
        if (id.empty()) return Error{Errc::not_found, "The file is no longer in the watched folder"};
    } else {
        TRY_ASSIGN(Upload const* const file, uploaded(exchange));
        TRY(stash_readings(desk, shown_name(file->name), file->bytes, id));
    }
    return Reply::see("/bring-in/file?file=" + id);
}

Result<Reply> file_page(Desk& desk, Exchange const& exchange)
{
    Stashed const* const file = desk.stashed(exchange.text("file"));
    if (!file) return Error{Errc::not_found, "This file is no longer waiting: choose it again"};
    auto const preview =
        desk.job().preview_readings(file->name, file->bytes, options_of(*file), how_of(*file));
    Html body = html("<h1>Look before it counts</h1>\n"
                     R"(<p class="breakable"><strong>{}</strong>, {} bytes</p>)"
                     "\n",
                     file->name, file->bytes.size());
    bool good = false, some = false, again = false;
    if (preview) {
        some = preview->rows > 0;
        again = !preview->already.empty();
        good = some && preview->bad_rows == 0 && !preview->wants_reference;
        body += html("<section><h2>What would come in</h2>{}{}</section>\n", what_comes_in(desk, *preview),
                     understood(desk, *preview));
        if (preview->wants_reference)
            body += notice("bad", "The file contains powers but names no reference: choose one below.");
    } else {
        Html lines;
        for (std::string_view const line : split(preview.error().message, '\n'))
            lines += html("<p>{}</p>", line);
        std::string const choose = wanted(*file);
        body += html(R"(<div class="notice bad" role="alert"><p>)"
                     "<strong>This file is not understood yet.</strong> {}</p>{}</div>\n",
                     choose.empty() ? std::string{}
                                    : fmt::format("Choose below where the file keeps: {}.", choose),
                     choose.empty() ? lines : Html{});
    }
    if (some)
        body += html(
            R"(<section>{}<input type="hidden" name="file" value="{}">{}{}<p>)"
            R"(<button>{}</button> <a class="button quiet" )"
            R"(href="/bring-in">Cancel</a></p>{}</section>)"
            "\n",
            form(exchange, "/bring-in/keep"), file->id,
            again ? html(R"(<label class="tick"><input type="checkbox" name="again" value="yes" required> )"
                         "The links were measured again: bring the file in although it came in "
                         "before</label>\n")
                  : Html{},
            good ? Html{} : html(R"(<input type="hidden" name="good" value="yes">)"),
            good ? "Bring it in" : "Bring in the good rows", end_form());
    body += html("<section><h2>Columns</h2><p>The file begins like this:</p>{}{}<details>"
                 "<summary>The column map as text: units, dates, several readings in a "
                 R"(row</summary>{}<input type="hidden" name="file" value="{}">)"
                 "\n"
                 R"(<label>Column map<textarea name="map" rows="16" class="code" )"
                 R"(spellcheck="false">{}</textarea></label>)"
                 "\n"
                 R"(<p class="quiet">Leave it empty if the file has the plain layout. Comments mark )"
                 "what is uncertain.</p>\n"
                 R"(<button class="quiet">Update with this text</button>{}</details></section>)"
                 "\n",
                 first_lines(file->bytes), choices_form(desk, exchange, *file),
                 form(exchange, "/bring-in/map"), file->id, file->column_map, end_form());
    return framed(desk, exchange, "Preview", body);
}

Result<Reply> correct_map(Desk& desk, Exchange const& exchange)
{
    Stashed* const file = desk.stashed(exchange.text("file"));
    if (!file) return Error{Errc::not_found, "This file is no longer waiting: choose it again"};
    if (exchange.has("choices")) {
        file->column_map = chosen(exchange, *file);
        file->reference = verdict::ReferenceId(exchange.text("reference"));
        file->instrument_positions = numbered_by_instrument(exchange);
    } else {
        file->column_map =
            trimmed(exchange.text("map")).empty() ? std::string{} : exchange.text("map").substr(0, 65536);
    }
    return Reply::see("/bring-in/file?file=" + file->id);
}

Result<Reply> keep_file(Desk& desk, Exchange const& exchange)
{
    Stashed const* const file = desk.stashed(exchange.text("file"));
    if (!file)
        return Error{Errc::not_found,
                     "This file is no longer waiting: it came in already, or you have to choose it again"};
    job::FileOptions options = options_of(*file);
    options.keep_good_rows = exchange.has("good");
    job::ReadingsOptions how = how_of(*file);
    how.again = exchange.has("again");
    TRY(desk.job().import_readings(file->name, file->bytes, options, how));
    desk.drop(file->id);
    return Reply::see("/");
}

Result<Reply> bring_schedule(Desk& desk, Exchange const& exchange)
{
    TRY_ASSIGN(Upload const* const file, uploaded(exchange));
    TRY(desk.job().import_schedule(shown_name(file->name), file->bytes, {}));
    return Reply::see("/links");
}

Result<Reply> withdraw(Desk& desk, Exchange const& exchange)
{
    job::Withdrawal withdrawal;
    withdrawal.station = exchange.text("station");
    withdrawal.sequence = parse_integer(exchange.text("sequence")).value_or(0);
    withdrawal.reason = exchange.text("reason").substr(0, 400);
    TRY(desk.job().withdraw_import(withdrawal));
    return Reply::see("/bring-in");
}

} // namespace guidepin::web
