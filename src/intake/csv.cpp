// SPDX-License-Identifier: Apache-2.0
#include "intake/csv.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <cstring>

#include <fmt/format.h>

namespace guidepin::intake {

Result<std::string_view> text_of_file(std::string_view file)
{
    if (file.starts_with("\xEF\xBB\xBF")) file.remove_prefix(3);
    if (file.starts_with("\xFF\xFE") || file.starts_with("\xFE\xFF")) {
        return Error{Errc::invalid_input, "The file is UTF-16; save it as CSV in UTF-8."};
    }
    if (file.starts_with("PK\x03\x04")) {
        return Error{Errc::invalid_input, "The file is a workbook, not CSV; save the sheet as CSV in UTF-8."};
    }
    if (file.substr(0, 4096).find('\0') != std::string_view::npos) {
        return Error{Errc::invalid_input,
                     "The file has zero bytes near its start, so it is no text; save it as CSV in UTF-8."};
    }
    if (trimmed(file.substr(0, 4096)).empty() && trimmed(file).empty()) {
        return Error{Errc::invalid_input, "The file is empty; its first line must be a header."};
    }
    return file;
}

Outcome require_lines(std::string_view text, std::uint32_t first_line)
{
    std::size_t start = 0;
    while (text.size() - start > longest_line) {
        // The last line end that is near enough; all lines before it are shorter than the way to it.
        auto const feed = text.substr(start, longest_line + 1).rfind('\n');
        if (feed == std::string_view::npos) {
            auto const before =
                std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(start), '\n');
            return Error{
                Errc::invalid_input,
                fmt::format("Line {} is longer than {} bytes, the most that a line may have; save the "
                            "file as CSV with one row a line.",
                            first_line + static_cast<std::uint32_t>(before), longest_line)};
        }
        start += feed + 1;
    }
    return {};
}

Result<std::string_view> beginning_of(std::string_view text)
{
    if (text.size() <= looked_at_most) return text;
    auto const feed = text.substr(0, looked_at_most).rfind('\n');
    if (feed == std::string_view::npos) {
        return Error{
            Errc::invalid_input,
            fmt::format("No line ends within the first {} bytes, the most that is looked at to find the "
                        "header; save the file as CSV with one row a line.",
                        looked_at_most)};
    }
    return text.substr(0, feed + 1);
}

char detect_separator(std::string_view header_line)
{
    std::size_t counts[3] = {0, 0, 0};
    constexpr std::string_view separators = ",;\t";
    bool quoted = false;
    for (char const letter : header_line) {
        if (letter == '"') quoted = !quoted;
        if (letter == '\n' && !quoted) break;
        auto const which = separators.find(letter);
        if (!quoted && which != std::string_view::npos) ++counts[which];
    }
    std::size_t best = 0;
    for (std::size_t i = 1; i < 3; ++i) {
        if (counts[i] > counts[best]) best = i;
    }
    return separators[best];
}

void CsvCursor::skip_line()
{
    auto const* const found =
        static_cast<char const*>(std::memchr(at_, '\n', static_cast<std::size_t>(end_ - at_)));
    at_ = found != nullptr ? found + 1 : end_;
    ++line_;
}

void CsvCursor::skip_lines(int count)
{
    for (int i = 0; i < count && at_ != end_; ++i) skip_line();
}

void CsvCursor::read_plain(CsvRow& row)
{
    char const* const start = at_;
    while (at_ != end_ && *at_ != separator_ && *at_ != '\n') {
        if (*at_ == '"' && row.fault == nullptr) {
            row.fault =
                "a double quote inside a field without quotes; write the field in quotes and the quote twice";
            row.fault_field = row.fields.size();
        }
        ++at_;
    }
    row.fields.emplace_back(start, static_cast<std::size_t>(at_ - start));
}

void CsvCursor::read_quoted(CsvRow& row)
{
    char const* const opened = at_++;
    char const* start = at_;
    std::string* copy = nullptr;
    while (true) {
        auto const* const quote =
            static_cast<char const*>(std::memchr(at_, '"', static_cast<std::size_t>(end_ - at_)));
        char const* const stop = quote != nullptr ? quote : end_;
        line_ += static_cast<std::uint32_t>(std::count(at_, stop, '\n'));
        if (quote == nullptr) {
            at_ = end_;
            if (row.fault == nullptr) {
                row.fault = "the quote that opens this field is never closed";
                row.fault_field = row.fields.size();
            }
            row.fields.emplace_back(opened, static_cast<std::size_t>(end_ - opened));
            return;
        }
        at_ = quote + 1;
        if (at_ == end_ || *at_ != '"') break;
        if (copy == nullptr) {
            if (unescaped_used_ == unescaped_.size()) unescaped_.emplace_back();
            copy = &unescaped_[unescaped_used_++];
            copy->clear();
        }
        copy->append(start, at_); // with one of the two quotes
        start = ++at_;
    }
    char const* const closed = at_ - 1;
    if (copy != nullptr) {
        copy->append(start, closed);
        row.fields.emplace_back(); // set when the row is whole: unescaped_ may still move
    } else {
        row.fields.emplace_back(start, static_cast<std::size_t>(closed - start));
    }
    bool const line_end = at_ == end_ || *at_ == separator_ || *at_ == '\n' ||
                          (*at_ == '\r' && (at_ + 1 == end_ || at_[1] == '\n'));
    if (line_end) {
        if (at_ != end_ && *at_ == '\r') ++at_;
        return;
    }
    if (row.fault == nullptr) {
        row.fault = "text after the closing quote; a quote inside a quoted field is written twice";
        row.fault_field = row.fields.size() - 1;
    }
    while (at_ != end_ && *at_ != separator_ && *at_ != '\n') ++at_;
}

bool CsvCursor::next(CsvRow& row)
{
    while (at_ != end_) {
        if (*at_ == '\n' || (*at_ == '\r' && at_ + 1 != end_ && at_[1] == '\n')) {
            at_ += *at_ == '\n' ? 1 : 2;
            ++line_;
            continue;
        }
        if ((!comment_.empty() &&
             std::string_view(at_, static_cast<std::size_t>(end_ - at_)).starts_with(comment_))) {
            skip_line();
            continue;
        }
        row.fields.clear();
        row.fault = nullptr;
        row.line = line_;
        unescaped_used_ = 0;
        std::vector<std::size_t> copied;
        while (true) {
            std::size_t const used = unescaped_used_;
            bool const quoted = at_ != end_ && *at_ == '"';
            if (quoted) {
                read_quoted(row);
            } else {
                read_plain(row);
            }
            if (unescaped_used_ != used) copied.push_back(row.fields.size() - 1);
            if (at_ != end_ && *at_ == separator_) {
                ++at_;
                continue;
            }
            if (!quoted && !row.fields.back().empty() && row.fields.back().back() == '\r') {
                row.fields.back().remove_suffix(1);
            }
            if (at_ != end_) ++at_; // the line feed
            ++line_;
            break;
        }
        for (std::size_t i = 0; i < copied.size(); ++i) {
            // A field that was never closed has no copy to show.
            if (row.fields[copied[i]].data() == nullptr) row.fields[copied[i]] = unescaped_[i];
        }
        return true;
    }
    return false;
}

bool is_blank(CsvRow const& row)
{
    return row.fault == nullptr && std::all_of(row.fields.begin(), row.fields.end(),
                                               [](std::string_view f) { return trimmed(f).empty(); });
}

std::string shown(std::string_view value)
{
    constexpr std::size_t longest = 60;
    bool const whole = value.size() <= longest;
    std::string text;
    if (!is_utf8(value)) {
        for (char const letter : value.substr(0, longest)) {
            bool const plain = letter >= ' ' && letter <= '~';
            text +=
                plain ? std::string(1, letter) : fmt::format("\\x{:02x}", static_cast<unsigned char>(letter));
        }
        return whole ? text : text + "…";
    }
    std::size_t end = std::min(value.size(), longest);
    while (end < value.size() && end > 0 && (static_cast<unsigned char>(value[end]) & 0xC0) == 0x80) --end;
    for (char const letter : value.substr(0, end)) {
        if (letter == '\n') {
            text += "\\n";
        } else if (letter == '\r') {
            text += "\\r";
        } else if (letter == '\t') {
            text += "\\t";
        } else if (static_cast<unsigned char>(letter) < ' ' || letter == 0x7F) {
            text += fmt::format("\\x{:02x}", static_cast<unsigned char>(letter));
        } else {
            text += letter;
        }
    }
    return whole ? text : text + "…";
}

} // namespace guidepin::intake
