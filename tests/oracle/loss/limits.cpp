// SPDX-License-Identifier: Apache-2.0
// Oracle: published link budgets, each with its source beside it; cells computed by hand from the formula and
// the values of each rule set (basis: derived); the same link under the three reference methods. Tolerance:
// the sources print two decimals, so half a unit of the last place (0.005 dB); computed cells have three
// decimals at most and are held to 1e-9 dB.
// Not here: a budget whose largest part is an optical splitter (20.41 dB of a passive network in a training
// text), for a splitter is no part of the cabling that this formula knows.
#include "loss/limit.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace guidepin::loss {
namespace limits_test {

using facts::CordGrade;
using setup::ReferenceMethod;

facts::Tables const& tables()
{
    return facts::built_in_tables();
}

facts::FibreCategory const* category(char const* id)
{
    auto const found = tables().category(id);
    EXPECT_TRUE(found) << id;
    return found ? *found : nullptr;
}

facts::RuleSet const* rules(char const* id)
{
    auto const found = tables().rule_set(id);
    EXPECT_TRUE(found) << id;
    return found ? *found : nullptr;
}

/// A rule set with the values of one published budget: cable (dB/km), each connection, each splice.
facts::RuleSet budget_rules(std::string const& category_id, int wavelength, double cable, double connection,
                            double splice)
{
    std::string const fibre = category_id.starts_with("OM") ? "multimode" : "single-mode";
    std::string const value = "unit = \"dB\"\nsource = \"budget\"\nbasis = \"secondary\"\n";
    auto const set = facts::load_rule_set(
        facts::NamedText{
            "budget.toml",
            fmt::format(
                "format = \"guidepin-facts\"\nkind = \"rule-set\"\n"
                "[sources]\nbudget = {{ document = \"published budget\", edition = \"as named in the row\" "
                "}}\n"
                "[rule-set]\nid = \"budget\"\ntitle = \"Budget\"\nsource = \"budget\"\nsimple-count = true\n"
                "[[coefficient]]\ncategory = \"{}\"\nwavelength = {}\nvalue = {}\nunit = \"dB/km\"\n"
                "source = \"budget\"\nbasis = \"secondary\"\n"
                "[[end-connection]]\ncords = \"standard\"\nfibre = \"{}\"\nvalue = {}\n{}"
                "[inner-connection]\nvalue = {}\n{}"
                "[splice]\nvalue = {}\n{}"
                "[[wavelength]]\nfibre = \"{}\"\nvalue = {}\nunit = \"nm\"\nsource = \"budget\"\n"
                "basis = \"secondary\"\n",
                category_id, wavelength, cable, fibre, connection, value, connection, value, splice, value,
                fibre, wavelength)},
        tables());
    EXPECT_TRUE(set) << set.error().message;
    return *set;
}

struct Budget
{
    char const* source;
    char const* category;
    int wavelength;
    double km;
    double cable;      ///< dB/km
    int connections;   ///< two of them at the ends
    double connection; ///< dB each
    int splices;
    double splice; ///< dB each
    double expected;
};

TEST(Limits, AgreeWithPublishedBudgets)
{
    char const* const classes = "ISO/IEC 11801:2002, channel classes";
    char const* const long_classes = "ISO/IEC 24702, channel classes"; // 2.0 dB of hardware: two at 1.0
    char const* const fibre_guide = "FOA reference guide, 2 km link budget";
    char const* const premises = "TIA-568-B.1, maximum link attenuation";
    // clang-format off
    Budget const budgets[] = {
        // source             fibre   nm   km   dB/km  n  each  s  each  expected
        {classes,             "OM3",  850, 0.3, 3.5,   2, 0.75, 0, 0,    2.55},
        {classes,             "OM3", 1300, 0.3, 1.5,   2, 0.75, 0, 0,    1.95},
        {classes,             "OS1", 1310, 0.3, 1.0,   2, 0.75, 0, 0,    1.80},
        {classes,             "OS1", 1550, 0.3, 1.0,   2, 0.75, 0, 0,    1.80},
        {classes,             "OM3",  850, 0.5, 3.5,   2, 0.75, 0, 0,    3.25},
        {classes,             "OM3", 1300, 0.5, 1.5,   2, 0.75, 0, 0,    2.25},
        {classes,             "OS1", 1310, 0.5, 1.0,   2, 0.75, 0, 0,    2.00},
        {classes,             "OM3",  850, 2.0, 3.5,   2, 0.75, 0, 0,    8.50},
        {classes,             "OM3", 1300, 2.0, 1.5,   2, 0.75, 0, 0,    4.50},
        {classes,             "OS1", 1310, 2.0, 1.0,   2, 0.75, 0, 0,    3.50},
        {long_classes,        "OS2", 1310, 5.0, 0.4,   2, 1.0,  0, 0,    4.00},
        {long_classes,        "OS2", 1310, 10., 0.4,   2, 1.0,  0, 0,    6.00},
        {fibre_guide,         "OM2",  850, 2.0, 3.0,   5, 0.3,  1, 0.3,  7.80},
        {fibre_guide,         "OM2",  850, 2.0, 3.5,   5, 0.75, 1, 0.3, 11.05},
        {fibre_guide,         "OM2", 1300, 2.0, 1.0,   5, 0.3,  1, 0.3,  3.80},
        {fibre_guide,         "OM2", 1300, 2.0, 1.5,   5, 0.75, 1, 0.3,  7.05},
        {fibre_guide,         "OS1", 1310, 2.0, 0.4,   5, 0.3,  1, 0.3,  2.60},
        {fibre_guide,         "OS1", 1310, 2.0, 1.0,   5, 0.75, 1, 0.3,  6.05},
        {fibre_guide,         "OS2", 1310, 2.0, 0.5,   5, 0.75, 1, 0.3,  5.05},
        {fibre_guide,         "OS1", 1550, 2.0, 0.3,   5, 0.3,  1, 0.3,  2.40},
        {fibre_guide,         "OS1", 1550, 2.0, 1.0,   5, 0.75, 1, 0.3,  6.05},
        {fibre_guide,         "OS2", 1550, 2.0, 0.5,   5, 0.75, 1, 0.3,  5.05},
        {premises,            "OM2",  850, 0.1, 3.5,   2, 0.75, 0, 0,    1.85}, // printed limit 2.0
        {premises,            "OM2",  850, 0.1, 3.5,   3, 0.75, 0, 0,    2.60}, // printed limit 2.75
        {premises,            "OM2",  850, 0.3, 3.5,   3, 0.75, 0, 0,    3.30}, // printed limit 3.3
        {premises,            "OM2",  850, 0.3, 3.5,   4, 0.75, 0, 0,    4.05}, // printed limit 4.1
        {"electrical training course text, link loss example",
                              "OS2", 1310, 0.2, 0.4,   4, 0.3,  6, 0.1,  1.88},
        {"IEEE 802.3 reflector, 10GBASE-ER: (11 - 1.5) / 40 = 0.2375 dB/km",
                              "OS2", 1550, 40., 0.2375, 2, 0.75, 0, 0,  11.00},
    };
    // clang-format on
    for (auto const& budget : budgets) {
        auto const set =
            budget_rules(budget.category, budget.wavelength, budget.cable, budget.connection, budget.splice);
        auto const found = limit(LimitQuestion{.rules = &set,
                                               .category = category(budget.category),
                                               .wavelength = Nanometres{budget.wavelength},
                                               .length = Metres{budget.km * 1000},
                                               .cords = CordGrade::standard,
                                               .inner = budget.connections - 2,
                                               .splices = budget.splices});
        ASSERT_TRUE(found) << budget.source << ": " << found.error().message;
        EXPECT_NEAR(found->total.value(), budget.expected, 0.005)
            << budget.source << ", " << budget.km << " km at " << budget.wavelength << " nm";
    }
}

struct Cell
{
    char const* category;
    int wavelength;
    double km;
    int inner;
    int splices;
    double tia_standard;    ///< TIA-568.3-D or -E with standard-grade cords
    double tia_d_reference; ///< TIA-568.3-D with reference-grade cords
    double tia_e_reference; ///< TIA-568.3-E with reference-grade cords
    double iso;             ///< ISO/IEC 14763-3:2014 + Cor1:2015
};

// Basis derived: each cell is length * coefficient + 2 * A_end + inner * 0.75 + splices * 0.3, worked by
// hand.
constexpr Cell cells[] = {
    {"OM4", 850, 0.100, 0, 0, 1.80, 0.90, 1.30, 1.35},   {"OM4", 850, 0.150, 2, 0, 3.45, 2.55, 2.95, 3.025},
    {"OM3", 850, 0.070, 1, 0, 2.46, 1.56, 1.96, 1.995},  {"OM4", 1300, 0.100, 0, 0, 1.65, 0.75, 1.15, 1.15},
    {"OM5", 953, 0.100, 0, 0, 1.73, 0.83, 1.23, 1.23},   {"OS2", 1310, 0.500, 2, 0, 3.25, 2.75, 2.75, 3.20},
    {"OS1a", 1310, 0.300, 0, 0, 1.80, 1.30, 1.30, 1.80}, {"OS2", 1550, 2.000, 0, 4, 3.70, 3.20, 3.20, 3.50},
};

TEST(Limits, AgreeWithEachCellOfTheRuleSets)
{
    int checked = 0;
    for (auto const& cell : cells) {
        auto const check = [&](char const* set, CordGrade cords, double expected) {
            LimitQuestion const question{.rules = rules(set),
                                         .category = category(cell.category),
                                         .wavelength = Nanometres{cell.wavelength},
                                         .length = Metres{cell.km * 1000},
                                         .cords = cords,
                                         .inner = cell.inner,
                                         .splices = cell.splices};
            auto const found = limit(question);
            ASSERT_TRUE(found) << found.error().message;
            EXPECT_NEAR(found->total.value(), expected, 1e-9)
                << set << ", " << name_of(cords) << " cords, " << cell.category << " at " << cell.wavelength
                << " nm, " << cell.km << " km, " << cell.inner << " inner, " << cell.splices << " splices";
            auto const number = limit_value(question);
            ASSERT_TRUE(number);
            EXPECT_EQ(number->value(), found->total.value());
            ++checked;
        };
        check("tia-568.3-d", CordGrade::standard, cell.tia_standard);
        check("tia-568.3-e", CordGrade::standard, cell.tia_standard);
        check("tia-568.3-d", CordGrade::reference, cell.tia_d_reference);
        check("tia-568.3-e", CordGrade::reference, cell.tia_e_reference);
        check("iso-14763-3-2014", CordGrade::reference, cell.iso);
    }
    EXPECT_EQ(checked, 40); // 32 cells; the column of standard-grade cords stands for both TIA editions
}

// OM4, 100 m at 850 nm, two ends and two inner connections, TIA. Standard-grade cords: each joint in the
// reference cancels one end connection. Reference-grade cords (derived): such a joint takes out only its own
// 0.10 dB.
TEST(Limits, FollowTheReferenceMethod)
{
    auto const value = [](ReferenceMethod method, CordGrade cords) {
        auto const found = limit_value(LimitQuestion{.rules = rules("tia-568.3-e"),
                                                     .category = category("OM4"),
                                                     .wavelength = 850_nm,
                                                     .length = 100_m,
                                                     .method = method,
                                                     .cords = cords,
                                                     .inner = 2});
        return found ? found->value() : std::nan("");
    };
    EXPECT_NEAR(value(ReferenceMethod::one_cord, CordGrade::standard), 3.30, 1e-9);
    EXPECT_NEAR(value(ReferenceMethod::two_cord, CordGrade::standard), 2.55, 1e-9);
    EXPECT_NEAR(value(ReferenceMethod::three_cord, CordGrade::standard), 1.80, 1e-9);
    EXPECT_NEAR(value(ReferenceMethod::one_cord, CordGrade::reference), 2.80, 1e-9);
    EXPECT_NEAR(value(ReferenceMethod::two_cord, CordGrade::reference), 2.70, 1e-9);
    EXPECT_NEAR(value(ReferenceMethod::three_cord, CordGrade::reference), 2.60, 1e-9);
}

// The simple count is too strict by up to 1.1 dB with reference-grade cords (single-mode ISO: 2 * (0.75 -
// 0.20)).
TEST(Limits, SimpleCountTakesWholeEndConnectionsOut)
{
    auto simple = *rules("iso-14763-3-2014");
    simple.simple_count = true;
    LimitQuestion question{.rules = rules("iso-14763-3-2014"),
                           .category = category("OS2"),
                           .wavelength = 1310_nm,
                           .length = 500_m,
                           .method = ReferenceMethod::three_cord};
    double const counted = limit_value(question)->value();
    question.rules = &simple;
    EXPECT_NEAR(limit_value(question)->value(), 0.2, 1e-9);
    EXPECT_NEAR(counted - limit_value(question)->value(), 1.1, 1e-9);
}

} // namespace limits_test
} // namespace guidepin::loss
