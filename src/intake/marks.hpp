// SPDX-License-Identifier: Apache-2.0
// Where the separators and line feeds of a text without quotes stand, found 64 bytes at a time. Room-private.
// Verified by: tests/unit/intake/readings.cpp (against CsvCursor), tests/fuzz/csv_readings.cpp.
#pragma once

#include <array>
#include <bit>
#include <cstdint>
#include <cstring>
#include <string_view>
#include <vector>

#ifdef __SSE2__
#include <emmintrin.h>
#endif

namespace guidepin::intake {

namespace detail {
/// Bit i is set where bytes[i] is `one` or `other`.
inline std::uint64_t mask_of(char const* bytes, char one, char other)
{
    std::uint64_t mask = 0;
#ifdef __SSE2__
    __m128i const first = _mm_set1_epi8(one);
    __m128i const second = _mm_set1_epi8(other);
    for (int part = 0; part < 4; ++part) {
        __m128i const block = _mm_loadu_si128(reinterpret_cast<__m128i const*>(bytes + part * 16));
        __m128i const equal = _mm_or_si128(_mm_cmpeq_epi8(block, first), _mm_cmpeq_epi8(block, second));
        mask |= static_cast<std::uint64_t>(static_cast<unsigned>(_mm_movemask_epi8(equal))) << (part * 16);
    }
#else
    for (int i = 0; i < 64; ++i) mask |= std::uint64_t{bytes[i] == one || bytes[i] == other} << i;
#endif
    return mask;
}
} // namespace detail

struct LineCount
{
    std::size_t line_feeds = 0;
    std::size_t separators = 0;
    bool quotes = false;
};

inline LineCount count_lines(std::string_view text, char separator)
{
    LineCount result;
    char const* at = text.data();
    char const* const end = at + text.size();
    for (; end - at >= 64; at += 64) {
        result.line_feeds += static_cast<std::size_t>(std::popcount(detail::mask_of(at, '\n', '\n')));
        result.separators +=
            static_cast<std::size_t>(std::popcount(detail::mask_of(at, separator, separator)));
        result.quotes = result.quotes || detail::mask_of(at, '"', '"') != 0;
    }
    for (; at != end; ++at) {
        result.line_feeds += *at == '\n' ? 1 : 0;
        result.separators += *at == separator ? 1 : 0;
        result.quotes = result.quotes || *at == '"';
    }
    return result;
}

/// The rows of a text without any quote, in the shape of CsvCursor.
class MarkCursor
{
  public:
    MarkCursor(std::string_view text, char separator, std::uint32_t first_line, std::size_t fields_expected)
        : at_(text.data())
        , end_(text.data() + text.size())
        , next_block_(text.data())
        , separator_(separator)
        , next_line_(first_line)
        , fields_(fields_expected + 1)
    {
    }

    /// False at the end. Lines without a byte are passed over.
    bool next()
    {
        while (at_ != end_) {
            line_ = next_line_++;
            count_ = 0;
            rest_blank_ = true;
            char const* start = at_;
            char const* mark = nullptr;
            do {
                mark = next_mark();
                std::string_view const field(start, static_cast<std::size_t>(mark - start));
                if (count_ < fields_.size()) {
                    fields_[count_] = field;
                } else {
                    rest_blank_ = rest_blank_ && field.find_first_not_of(" \t\r") == std::string_view::npos;
                }
                ++count_;
                start = mark + 1;
            } while (mark != end_ && *mark != '\n');
            at_ = mark == end_ ? end_ : mark + 1;
            // CRLF: the last field ends before the CR.
            std::string_view& last = fields_[count_ <= fields_.size() ? count_ - 1 : fields_.size() - 1];
            if (!last.empty() && last.back() == '\r') last.remove_suffix(1);
            if (count_ > 1 || !last.empty()) return true;
        }
        return false;
    }

    std::uint32_t line() const { return line_; }
    std::size_t count() const { return count_; } ///< may be more than are kept
    std::string_view const* fields() const { return fields_.data(); }
    std::size_t kept() const { return count_ < fields_.size() ? count_ : fields_.size(); }
    bool rest_blank() const { return rest_blank_; } ///< those that are not kept are empty or spaces
    char const* fault() const { return nullptr; }
    std::size_t fault_field() const { return 0; }

  private:
    char const* next_mark()
    {
        while (mask_ == 0) {
            if (next_block_ >= end_) return end_;
            block_ = next_block_;
            auto const left = static_cast<std::size_t>(end_ - block_);
            if (left >= 64) {
                mask_ = detail::mask_of(block_, separator_, '\n');
                next_block_ += 64;
            } else {
                std::array<char, 64> padded{};
                std::memcpy(padded.data(), block_, left);
                mask_ = detail::mask_of(padded.data(), separator_, '\n');
                next_block_ = end_;
            }
        }
        int const bit = std::countr_zero(mask_);
        mask_ &= mask_ - 1;
        return block_ + bit;
    }

    char const* at_;
    char const* end_;
    char const* next_block_;
    char const* block_ = nullptr;
    std::uint64_t mask_ = 0;
    char separator_;
    std::uint32_t next_line_;
    std::uint32_t line_ = 0;
    std::size_t count_ = 0;
    bool rest_blank_ = true;
    std::vector<std::string_view> fields_;
};

} // namespace guidepin::intake
