// SPDX-License-Identifier: Apache-2.0
// Oracle: the definition of an id (two kinds never meet, text goes in and out only on request); the order,
// hash and format of std::string.
#include "base/id.hpp"
#include "base/safe_text.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <type_traits>
#include <unordered_set>
#include <vector>

namespace guidepin {
namespace id_test {

using AppleId = Id<struct Apple>;
using PearId = Id<struct Pear>;

template <class A, class B>
concept Comparable = requires(A a, B b)
{
    a == b;
};
template <class A, class B>
concept Ordered = requires(A a, B b)
{
    a < b;
};
template <class Value>
concept ShownInMarkup = requires(Value value)
{
    detail::as_markup(value);
};

static_assert(Comparable<AppleId, AppleId> && Ordered<AppleId, AppleId>);
static_assert(!Comparable<AppleId, PearId> && !Ordered<AppleId, PearId>);
static_assert(!std::is_constructible_v<PearId, AppleId>);
static_assert(!std::is_assignable_v<PearId&, AppleId>);
static_assert(!std::is_convertible_v<AppleId, PearId>);

static_assert(std::is_constructible_v<AppleId, std::string> &&
              std::is_constructible_v<AppleId, std::string_view> &&
              std::is_constructible_v<AppleId, char const*>);
static_assert(!std::is_convertible_v<std::string, AppleId> &&
              !std::is_convertible_v<std::string_view, AppleId> &&
              !std::is_convertible_v<char const*, AppleId>);
static_assert(!std::is_convertible_v<AppleId, std::string> &&
              !std::is_convertible_v<AppleId, std::string_view>);
static_assert(!Comparable<AppleId, std::string> && !Comparable<AppleId, char const*>);
static_assert(ShownInMarkup<AppleId>);

TEST(Id, IsEmptyUntilItNamesSomething)
{
    EXPECT_TRUE(AppleId().empty());
    EXPECT_TRUE(AppleId("").empty());
    EXPECT_FALSE(AppleId("A-1").empty());
    EXPECT_EQ(AppleId("A-1").text(), "A-1");
}

TEST(Id, IsOrderedAndFoundAsItsText)
{
    std::vector<std::string> texts{"R-2", "R-10", "", "r-1", "R-1", "\xc3\xa4"};
    std::vector<AppleId> ids(texts.begin(), texts.end());
    std::sort(texts.begin(), texts.end());
    std::sort(ids.begin(), ids.end());
    for (std::size_t i = 0; i < ids.size(); ++i) EXPECT_EQ(ids[i].text(), texts[i]);

    std::unordered_set<AppleId> const set(ids.begin(), ids.end());
    EXPECT_EQ(set.size(), texts.size());
    EXPECT_TRUE(set.contains(AppleId("R-10")));
    EXPECT_FALSE(set.contains(AppleId("R-100")));
    EXPECT_EQ(std::hash<AppleId>{}(AppleId("R-10")), std::hash<std::string>{}("R-10"));
}

TEST(Id, IsWrittenAsItsText)
{
    EXPECT_EQ(fmt::format("[{}]", AppleId("R-1")), "[R-1]");
    EXPECT_EQ(fmt::format("[{:>5}]", AppleId("R-1")), "[  R-1]");
    EXPECT_EQ(html("<b>{}</b>", AppleId("<R&1>")).text(), "<b>&lt;R&amp;1&gt;</b>");
}

} // namespace id_test
} // namespace guidepin
