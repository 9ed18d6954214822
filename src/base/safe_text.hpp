// SPDX-License-Identifier: Apache-2.0
// Markup and SQL are literals. Text goes into markup escaped and into SQL bound, because nothing else
// compiles.
#pragma once

#include "base/id.hpp"

#include <string>
#include <string_view>
#include <type_traits>
#include <utility>

#include <fmt/format.h>

namespace guidepin {

/// `<`, `>`, `&`, `"` and `'` written so that a browser shows them as text, inside elements and quoted
/// attributes. Not enough for a URL: that needs url_escaped() first.
std::string html_escaped(std::string_view text);

/// Every byte but letters, digits, "-", "_", "." and "~" as %XX (RFC 3986).
std::string url_escaped(std::string_view text);
template <class Of>
std::string url_escaped(Id<Of> const& id)
{
    return url_escaped(id.text());
}

/// Markup that is safe to send. Made from literals by html(), where text is escaped and Html nests as it is.
class Html
{
  public:
    Html() = default;
    std::string const& text() const { return text_; }
    bool empty() const { return text_.empty(); }
    Html& operator+=(Html const& other)
    {
        text_ += other.text_;
        return *this;
    }
    friend Html operator+(Html left, Html const& right) { return left += right; }

    /// For markup that another part of the program made and vouches for (a drawing's SVG). Each use can be
    /// searched for.
    static Html vouched(std::string markup)
    {
        Html result;
        result.text_ = std::move(markup);
        return result;
    }

  private:
    std::string text_;
};

namespace detail {
inline std::string const& as_markup(Html const& part)
{
    return part.text();
}
inline std::string as_markup(std::string const& part)
{
    return html_escaped(part);
}
inline std::string as_markup(std::string_view part)
{
    return html_escaped(part);
}
inline std::string as_markup(char const* part)
{
    return html_escaped(part);
}
template <class Of>
std::string as_markup(Id<Of> const& part)
{
    return html_escaped(part.text());
}
template <class Number>
requires(std::is_integral_v<Number> && !std::is_same_v<Number, bool> &&
         !std::is_same_v<Number, char>) std::string as_markup(Number part)
{
    return fmt::format("{}", part);
}
} // namespace detail

/// html("<td title=\"{}\">{}</td>", name, margin): the pattern must be a literal.
template <class... Parts>
Html html(fmt::format_string<decltype(detail::as_markup(std::declval<Parts const&>()))...> pattern,
          Parts const&... parts)
{
    return Html::vouched(fmt::vformat(pattern, fmt::make_format_args(detail::as_markup(parts)...)));
}

// clang 14, which builds the fuzzers, crashes on a consteval temporary that is passed to a function; g++ does
// the checking.
#if defined(__clang__) && __clang_major__ < 15
#define GUIDEPIN_CONSTEVAL constexpr
#else
#define GUIDEPIN_CONSTEVAL consteval
#endif

/// A statement written by us: only a literal converts.
class Sql
{
  public:
    template <std::size_t N>
    GUIDEPIN_CONSTEVAL Sql(char const (&text)[N])
        : text_(text, N - 1)
    {
    }
    constexpr std::string_view text() const { return text_; }

  private:
    std::string_view text_;
};

} // namespace guidepin
