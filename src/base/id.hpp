// SPDX-License-Identifier: Apache-2.0
// Names of things as types: the id of a reference is no id of a link. Explicit in, text() out; two kinds
// neither compare nor convert.
// Verified by: tests/unit/base/id.cpp (static_asserts on what must not compile).
#pragma once

#include <compare>
#include <cstddef>
#include <functional>
#include <string>
#include <string_view>
#include <utility>

#include <fmt/format.h>

namespace guidepin {

/// The id of an `Of`, which only names the kind and need not be complete. Empty: no such thing is named.
/// Ordered by bytes, as its text is.
template <class Of>
class Id
{
  public:
    Id() = default;
    explicit Id(std::string text)
        : text_(std::move(text))
    {
    }
    explicit Id(std::string_view text)
        : text_(text)
    {
    }
    explicit Id(char const* text)
        : text_(text)
    {
    }

    std::string const& text() const { return text_; }
    bool empty() const { return text_.empty(); }

    friend auto operator<=>(Id const&, Id const&) = default;

  private:
    std::string text_;
};

} // namespace guidepin

template <class Of>
struct std::hash<guidepin::Id<Of>>
{
    std::size_t operator()(guidepin::Id<Of> const& id) const { return std::hash<std::string>{}(id.text()); }
};

template <class Of>
struct fmt::formatter<guidepin::Id<Of>> : fmt::formatter<std::string_view>
{
    template <class Context>
    auto format(guidepin::Id<Of> const& id, Context& context) const
    {
        return fmt::formatter<std::string_view>::format(id.text(), context);
    }
};
