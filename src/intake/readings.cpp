// SPDX-License-Identifier: Apache-2.0
// The plain layout of readings, fast: the text is cut at line ends into pieces, each piece is read on one
// thread straight into its stretch of the columns, names are numbered per piece and joined in file order.
// Where quotes are about, the cuts are found by walking over the quotes first, so that no cut falls inside a
// quoted field.
#include "intake/readings.hpp"

#include "base/hash.hpp"
#include "base/parallel.hpp"
#include "intake/cells.hpp"
#include "intake/marks.hpp"
#include "intake/moment.hpp"
#include "intake/opened.hpp"
#include "intake/problem_list.hpp"
#include "intake/readings_columns.hpp"

#include <algorithm>
#include <cassert>
#include <deque>

#include <fmt/format.h>

namespace guidepin::intake {

using verdict::Dictionary;
using verdict::ReadingColumns;

namespace {

/// The names of one column in one piece, numbered as they appear. Rows mostly repeat the name above them.
class PieceNames
{
  public:
    struct Entry
    {
        std::string_view raw;
        std::string_view plain;
        char const* fault = nullptr;
    };

    explicit PieceNames(std::string_view file)
        : file_(file)
        , slots_(64, empty)
    {
    }

    std::uint32_t index_of(std::string_view raw)
    {
        if (last_ != empty && entries_[last_].raw == raw) return last_;
        std::size_t place = static_cast<std::size_t>(fast_hash(raw)) & (slots_.size() - 1);
        while (slots_[place] != empty) {
            if (entries_[slots_[place]].raw == raw) return last_ = slots_[place];
            place = (place + 1) & (slots_.size() - 1);
        }
        add(raw);
        slots_[place] = last_;
        if (entries_.size() * 2 > slots_.size()) grow();
        return last_;
    }
    Entry const& entry(std::uint32_t index) const { return entries_[index]; }
    std::vector<Entry> const& entries() const { return entries_; }

  private:
    static constexpr std::uint32_t empty = Dictionary::missing;

    void add(std::string_view raw)
    {
        // A field with doubled quotes lives in a buffer of the cursor; the rest stays where the file is.
        bool const in_file = std::less_equal<>{}(file_.data(), raw.data()) &&
                             std::less_equal<>{}(raw.data() + raw.size(), file_.data() + file_.size());
        if (!in_file) raw = copies_.emplace_back(raw);
        std::string room;
        std::string_view plain = without_guard(raw, room);
        if (plain.data() == room.data()) plain = copies_.emplace_back(std::move(room));
        last_ = static_cast<std::uint32_t>(entries_.size());
        entries_.push_back(Entry{raw, plain, name_fault(plain)});
    }
    void grow()
    {
        slots_.assign(slots_.size() * 4, empty);
        for (std::uint32_t i = 0; i < entries_.size(); ++i) {
            std::size_t place = static_cast<std::size_t>(fast_hash(entries_[i].raw)) & (slots_.size() - 1);
            while (slots_[place] != empty) place = (place + 1) & (slots_.size() - 1);
            slots_[place] = i;
        }
    }

    std::string_view file_;
    std::vector<Entry> entries_;
    std::vector<std::uint32_t> slots_;
    std::deque<std::string> copies_;
    std::uint32_t last_ = empty;
};

/// CsvCursor in the shape of MarkCursor.
class QuoteCursor
{
  public:
    QuoteCursor(std::string_view text, char separator, std::uint32_t first_line, std::size_t)
        : cursor_(text, separator, first_line)
    {
    }
    bool next() { return cursor_.next(row_); }
    std::uint32_t line() const { return row_.line; }
    std::size_t count() const { return row_.fields.size(); }
    std::string_view const* fields() const { return row_.fields.data(); }
    std::size_t kept() const { return row_.fields.size(); }
    bool rest_blank() const { return true; }
    char const* fault() const { return row_.fault; }
    std::size_t fault_field() const { return row_.fault_field; }

  private:
    CsvCursor cursor_;
    CsvRow row_;
};

/// Which file column is which; -1: not there.
struct Plan
{
    int link = -1, launch_end = -1, position = -1, far_position = -1, wavelength = -1, value = -1,
        length = -1, taken = -1, reference = -1, operator_name = -1;
    bool is_power = false;
    LengthUnit length_unit = LengthUnit::metres;
    char decimal = '.';
    char separator = ',';
    std::int16_t default_offset_minutes = 0;
    std::vector<std::string> headers;
};

Plan make_plan(OpenedFile const& file, HeaderMatch const& match, ReadOptions const& options, bool has_quotes)
{
    Plan plan;
    plan.headers = file.headers;
    plan.separator = file.dialect.separator;
    plan.default_offset_minutes = options.default_offset_minutes;
    auto const columns = columns_of(LayoutKind::readings);
    std::vector<int> numbers;
    for (std::size_t k = 0; k < columns.size(); ++k) {
        int const place = match.file_column[k];
        if (place < 0) continue;
        std::string_view const name = columns[k].name;
        if (name == "link") plan.link = place;
        if (name == "launch_end") plan.launch_end = place;
        if (name == "position") plan.position = place;
        if (name == "far_position") plan.far_position = place;
        if (name == "wavelength_nm") plan.wavelength = place;
        if (columns[k].group == "value") plan.value = place;
        if (name == "power_dbm") plan.is_power = true;
        if (columns[k].group == "length") plan.length = place;
        if (name == "length_ft") plan.length_unit = LengthUnit::feet;
        if (name == "length") plan.length_unit = LengthUnit::in_value;
        if (name == "taken_at") plan.taken = place;
        if (name == "reference") plan.reference = place;
        if (name == "operator") plan.operator_name = place;
        bool const text = columns[k].kind == CellKind::text || columns[k].kind == CellKind::moment ||
                          columns[k].kind == CellKind::end;
        if (!text) numbers.push_back(place);
    }
    plan.decimal = detect_decimal(file, numbers, has_quotes);
    return plan;
}

struct Piece
{
    std::string_view text;
    std::uint32_t first_line = 1;
    std::size_t rows_at_most = 0;
    std::size_t offset = 0; ///< of its first row in the columns
    std::size_t good = 0;   ///< rows written
    std::size_t rows = 0;   ///< rows seen
    PieceNames links, references, operators;
    Problems bad;

    explicit Piece(std::string_view piece, std::string_view file)
        : text(piece)
        , links(file)
        , references(file)
        , operators(file)
    {
    }
};

/// Reads the rows of one piece. Each cell is tried, so that all faults of a row are reported.
template <class Cursor>
class PieceReader
{
  public:
    PieceReader(Plan const& plan, Piece& piece, std::size_t listed_at_most)
        : plan_(plan)
        , piece_(piece)
        , cursor_(piece.text, plan.separator, piece.first_line, plan.headers.size())
        , moments_(plan.default_offset_minutes)
        , problems_(listed_at_most)
    {
    }

    void read(ReadingColumns& columns)
    {
        std::size_t out = piece_.offset;
        while (cursor_.next()) {
            if (cursor_.count() != plan_.headers.size() || cursor_.fault() != nullptr) {
                if (!is_blank_row()) report_shape();
                continue;
            }
            fields_ = cursor_.fields();
            ok_ = true;
            std::uint32_t const link = name(plan_.link, piece_.links, true);
            std::uint8_t end = 0;
            if (auto const* fault = read_end(field(plan_.launch_end), end)) fail(plan_.launch_end, fault);
            std::int16_t position = 0;
            if (auto const* fault = read_position(field(plan_.position), position))
                fail(plan_.position, fault);
            std::int16_t far_position = verdict::far_not_stated;
            if (plan_.far_position >= 0) {
                if (auto const* fault = read_far_position(field(plan_.far_position), far_position))
                    fail(plan_.far_position, fault);
            }
            std::uint16_t wavelength = 0;
            if (auto const* fault = read_wavelength(field(plan_.wavelength), wavelength))
                fail(plan_.wavelength, fault);
            double value = 0;
            if (auto const* fault = read_value(field(plan_.value), plan_.decimal, plan_.is_power, value))
                fail(plan_.value, fault);
            double length = std::numeric_limits<double>::quiet_NaN();
            if (plan_.length >= 0) {
                if (auto const* fault =
                        read_length(field(plan_.length), plan_.decimal, plan_.length_unit, length)) {
                    fail(plan_.length, fault);
                }
            }
            Instant const taken = moment();
            std::uint32_t const reference = name(plan_.reference, piece_.references, false);
            std::uint32_t const operator_name = name(plan_.operator_name, piece_.operators, false);
            if (!ok_) {
                if (is_blank_row()) {
                    forget_row();
                } else {
                    keep_row_problems();
                }
                continue;
            }
            assert(out < piece_.offset + piece_.rows_at_most);
            columns.link[out] = link;
            columns.launch_end[out] = static_cast<verdict::LaunchEnd>(end);
            columns.position[out] = position;
            columns.far_position[out] = far_position;
            columns.wavelength_nm[out] = wavelength;
            columns.value[out] = value;
            columns.length_m[out] = length;
            columns.taken_ms[out] = taken.ms;
            columns.offset_minutes[out] = taken.offset_minutes;
            columns.reference[out] = reference;
            columns.operator_name[out] = operator_name;
            columns.line[out] = cursor_.line();
            ++out;
        }
        piece_.good = out - piece_.offset;
        piece_.rows = piece_.good + problems_.problems().rows;
        piece_.bad = problems_.take();
    }

  private:
    std::string_view field(int column) const { return tight(fields_[column]); }

    [[gnu::noinline]] void fail(int column, char const* reason)
    {
        ok_ = false;
        row_faults_.emplace_back(column, reason);
    }

    std::uint32_t name(int column, PieceNames& names, bool required)
    {
        if (column < 0) return Dictionary::missing;
        std::string_view const text = field(column);
        if (text.empty()) {
            if (required) fail(column, "is empty");
            return Dictionary::missing;
        }
        std::uint32_t const index = names.index_of(text);
        if (names.entry(index).fault != nullptr) fail(column, names.entry(index).fault);
        return index;
    }

    Instant moment()
    {
        if (plan_.taken < 0) return {ReadingColumns::no_time, 0};
        std::string_view const text = field(plan_.taken);
        if (text.empty()) return {ReadingColumns::no_time, 0};
        auto const moment = moments_.read(text);
        if (moment) return *moment;
        fail(plan_.taken, "is no time of RFC 3339, such as 2026-03-02T08:15:00+01:00");
        return {};
    }

    bool is_blank_row() const
    {
        if (cursor_.fault() != nullptr || !cursor_.rest_blank()) return false;
        return std::all_of(cursor_.fields(), cursor_.fields() + cursor_.kept(),
                           [](std::string_view f) { return tight(f).empty(); });
    }

    void forget_row() { row_faults_.clear(); }

    void keep_row_problems()
    {
        for (auto const& [column, reason] : row_faults_) {
            std::string_view const text = field(column);
            problems_.add(cursor_.line(), plan_.headers[static_cast<std::size_t>(column)], text,
                          text.empty() ? "is empty" : reason);
        }
        row_faults_.clear();
        problems_.count_row();
    }

    void report_shape()
    {
        if (cursor_.fault() != nullptr) {
            std::size_t const f = cursor_.fault_field();
            problems_.add(cursor_.line(), f < plan_.headers.size() ? plan_.headers[f] : "",
                          cursor_.fields()[f], cursor_.fault());
        } else {
            problems_.add(
                cursor_.line(), "", "",
                fmt::format("has {} fields where the header has {}", cursor_.count(), plan_.headers.size()));
        }
        problems_.count_row();
    }

    Plan const& plan_;
    Piece& piece_;
    Cursor cursor_;
    MomentReader moments_;
    ProblemList problems_;
    std::string_view const* fields_ = nullptr;
    std::vector<std::pair<int, char const*>> row_faults_;
    bool ok_ = true;
};

/// Cuts at line ends near equal distances. `inside` holds the stretches within quotes, in order.
std::vector<Piece> cut(std::string_view body, std::size_t pieces,
                       std::vector<std::pair<std::size_t, std::size_t>> const& inside)
{
    std::vector<Piece> result;
    std::size_t start = 0;
    auto stretch = inside.begin();
    for (std::size_t k = 1; k <= pieces && start < body.size(); ++k) {
        std::size_t end = k == pieces ? body.size() : std::max(start, body.size() * k / pieces);
        while (end < body.size()) {
            auto const feed = body.find('\n', end);
            end = feed == std::string_view::npos ? body.size() : feed + 1;
            while (stretch != inside.end() && stretch->second < end) ++stretch;
            bool const quoted = stretch != inside.end() && end < body.size() && stretch->first < end;
            if (!quoted) break;
            end = stretch->second;
        }
        if (end > start) result.emplace_back(body.substr(start, end - start), body);
        start = end;
    }
    return result;
}

/// Stretches [first byte inside, closing quote) of quoted fields that hold a line feed.
std::vector<std::pair<std::size_t, std::size_t>> quoted_stretches(std::string_view body, char separator)
{
    std::vector<std::pair<std::size_t, std::size_t>> result;
    std::size_t at = 0;
    while (true) {
        std::size_t const opening = body.find('"', at);
        if (opening == std::string_view::npos) return result;
        at = opening + 1;
        bool const opens = opening == 0 || body[opening - 1] == separator || body[opening - 1] == '\n';
        if (!opens) continue;
        std::size_t closing = at;
        while (true) {
            closing = body.find('"', closing);
            if (closing == std::string_view::npos || closing + 1 >= body.size() || body[closing + 1] != '"')
                break;
            closing += 2;
        }
        if (closing == std::string_view::npos) closing = body.size();
        if (body.substr(opening, closing - opening).find('\n') != std::string_view::npos)
            result.emplace_back(opening + 1, closing);
        at = std::min(body.size(), closing + 1);
    }
}

/// How many rows of this piece can hold at the most, so that columns are made for what may be kept and not
/// for a hundred million empty lines. A row that holds has a line, a separator between each two columns, and
/// at least the eleven bytes of "L,a,1,850,0" with a line feed behind it.
std::size_t most_rows(LineCount const& count, std::string_view piece, std::size_t columns)
{
    constexpr std::size_t least_row = std::string_view("L,a,1,850,0\n").size();
    std::size_t const lines = count.line_feeds + (piece.ends_with('\n') ? 0 : 1);
    std::size_t const separated = columns > 1 ? count.separators / (columns - 1) : lines;
    return std::min({lines, separated, (piece.size() + 1) / least_row});
}

/// The pieces' names as one dictionary in file order, and the column renumbered.
void join_names(std::vector<Piece> const& pieces, PieceNames Piece::*names, Dictionary& into,
                std::vector<std::uint32_t>& column, int threads)
{
    std::vector<std::vector<std::uint32_t>> number(pieces.size());
    std::vector<std::uint8_t> changes(pieces.size(), 0);
    for (std::size_t p = 0; p < pieces.size(); ++p) {
        auto const& entries = (pieces[p].*names).entries();
        for (std::size_t i = 0; i < entries.size(); ++i) {
            // A name with a fault is on no row that is kept.
            std::uint32_t const index =
                entries[i].fault == nullptr ? into.index_of(entries[i].plain) : Dictionary::missing;
            number[p].push_back(index);
            if (index != i) changes[p] = 1;
        }
    }
    run_parallel(threads, pieces.size(), [&](std::size_t p) {
        if (changes[p] == 0) return;
        for (std::size_t row = pieces[p].offset; row < pieces[p].offset + pieces[p].good; ++row) {
            if (column[row] != Dictionary::missing) column[row] = number[p][column[row]];
        }
    });
}

} // namespace

Result<Intake<ReadingColumns>> read_readings_in_pieces(std::string_view file, ReadOptions const& options,
                                                       std::size_t piece_bytes)
{
    auto opened = open_file(file, options);
    if (!opened) return opened.error().within(options.name);
    auto match = match_header(LayoutKind::readings, opened->headers);
    if (!match) return match.error().within(options.name);
    std::string_view const body = opened->body;

    int const threads = std::clamp(options.threads, 1, 64);
    std::size_t const wanted = std::clamp<std::size_t>(body.size() / std::max<std::size_t>(piece_bytes, 1), 1,
                                                       static_cast<std::size_t>(threads) * 4);
    std::vector<Piece> pieces = cut(body, wanted, {});
    std::vector<LineCount> counts(pieces.size());
    auto const count_all = [&] {
        counts.resize(pieces.size());
        run_parallel(threads, pieces.size(), [&](std::size_t p) {
            counts[p] = count_lines(pieces[p].text, opened->dialect.separator);
        });
    };
    count_all();
    bool const quotes =
        std::any_of(counts.begin(), counts.end(), [](LineCount const& c) { return c.quotes; });
    if (quotes && pieces.size() > 1) {
        pieces = cut(body, wanted, quoted_stretches(body, opened->dialect.separator));
        count_all();
    }
    Plan const plan = make_plan(*opened, *match, options, quotes);
    std::size_t rows_at_most = 0;
    std::uint32_t line = opened->body_line;
    for (std::size_t p = 0; p < pieces.size(); ++p) {
        pieces[p].first_line = line;
        pieces[p].offset = rows_at_most;
        pieces[p].rows_at_most = most_rows(counts[p], pieces[p].text, opened->headers.size());
        rows_at_most += pieces[p].rows_at_most;
        line += static_cast<std::uint32_t>(counts[p].line_feeds);
    }

    Intake<ReadingColumns> result;
    ReadingColumns& columns = result.content;
    columns.is_power = plan.is_power;
    set_size(columns, rows_at_most, threads);
    run_parallel(threads, pieces.size(), [&](std::size_t p) {
        if (quotes) {
            PieceReader<QuoteCursor>(plan, pieces[p], options.listed_at_most).read(columns);
        } else {
            PieceReader<MarkCursor>(plan, pieces[p], options.listed_at_most).read(columns);
        }
    });
    join_names(pieces, &Piece::links, columns.links, columns.link, threads);
    join_names(pieces, &Piece::references, columns.references, columns.reference, threads);
    join_names(pieces, &Piece::operators, columns.operators, columns.operator_name, threads);

    std::size_t kept = 0;
    ProblemList bad(options.listed_at_most);
    for (Piece& piece : pieces) {
        move_rows(columns, piece.offset, kept, piece.good);
        kept += piece.good;
        result.rows += piece.rows;
        bad.append(std::move(piece.bad));
    }
    set_size(columns, kept, 1);
    result.bad = bad.take();
    result.unused_columns = match->unused;
    result.dialect = Dialect{plan.separator, plan.decimal};
    settle_repetitions(result, options, "link");
    return result;
}

Result<Intake<ReadingColumns>> read_readings(std::string_view file, ReadOptions const& options)
{
    if (options.map != nullptr) return read_readings_by_row(file, options);
    constexpr std::size_t piece_bytes = 512 * 1024;
    return read_readings_in_pieces(file, options, piece_bytes);
}

} // namespace guidepin::intake
