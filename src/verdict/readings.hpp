// SPDX-License-Identifier: Apache-2.0
// Readings as columns: one row an attenuation of one position at one wavelength. What intake makes, record
// keeps and verdict judges. Kept narrow: a million of them must fit beside the file they came from.
#pragma once

#include "verdict/reference_id.hpp"

#include <cstdint>
#include <limits>
#include <string>
#include <string_view>
#include <unordered_map>
#include <utility>
#include <vector>

namespace guidepin::verdict {

/// Text stored once, spoken of by number.
class Dictionary
{
  public:
    std::uint32_t index_of(std::string_view text);   ///< adds it when new
    std::uint32_t find(std::string_view text) const; ///< `missing` when unknown
    std::string const& text(std::uint32_t index) const { return texts_[index]; }
    std::size_t size() const { return texts_.size(); }
    static constexpr std::uint32_t missing = std::numeric_limits<std::uint32_t>::max();

  private:
    struct Hash
    {
        using is_transparent = void;
        std::size_t operator()(std::string_view text) const { return std::hash<std::string_view>{}(text); }
    };
    std::vector<std::string> texts_;
    std::unordered_map<std::string, std::uint32_t, Hash, std::equal_to<>> index_;
};

/// A dictionary of ids of one kind. Files and records bring text in; find() takes an id, so that one of
/// another kind is not looked up here.
template <class Of>
class IdDictionary : public Dictionary
{
  public:
    IdDictionary() = default;
    /// Takes a column of names over that turned out to hold ids of this kind.
    explicit IdDictionary(Dictionary names)
        : Dictionary(std::move(names))
    {
    }
    Id<Of> id(std::uint32_t index) const { return Id<Of>(text(index)); }
    std::uint32_t index_of(std::string_view name) { return Dictionary::index_of(name); }
    std::uint32_t index_of(Id<Of> const& name) { return Dictionary::index_of(name.text()); }
    std::uint32_t find(Id<Of> const& name) const { return Dictionary::find(name.text()); }
};

enum class LaunchEnd : std::uint8_t { a, b };

constexpr std::int16_t far_not_stated = -1; ///< the row says nothing of the far position
constexpr std::int16_t far_dark = 0;        ///< no light arrives anywhere

/// All columns have the same length. Positions are on the cabling's own plugs, near = launch end, 1-based.
/// Missing numbers are NaN; a missing time is `no_time`.
struct ReadingColumns
{
    static constexpr std::int64_t no_time = std::numeric_limits<std::int64_t>::min();

    Dictionary links;
    IdDictionary<ReferenceEntry> references;
    Dictionary operators;
    std::vector<std::uint32_t> link;
    std::vector<LaunchEnd> launch_end;
    std::vector<std::int16_t> position;
    std::vector<std::int16_t> far_position;
    std::vector<std::uint16_t> wavelength_nm;
    std::vector<double> value; ///< attenuation in dB, or received power in dBm where `is_power`
    std::vector<double> length_m;
    std::vector<std::int64_t> taken_ms;       ///< milliseconds since 1970 UTC
    std::vector<std::int16_t> offset_minutes; ///< zone of the wall clock the time was written by
    std::vector<std::uint32_t> reference;     ///< Dictionary::missing: not stated
    std::vector<std::uint32_t> operator_name;
    std::vector<std::uint32_t> line; ///< of the source file, for messages
    bool is_power = false;           ///< `value` is a power; attenuation needs the reference

    std::size_t size() const { return link.size(); }
    void reserve(std::size_t rows);
    void append_row_of(ReadingColumns const& other, std::size_t row); ///< dictionaries are joined
};

} // namespace guidepin::verdict
