// SPDX-License-Identifier: Apache-2.0
// Oracle: planning answers and sums that do not close, by an independent program: scipy 1.10.1 with numpy
// 1.24.2 (planning.py beside this file, recorded in planning_table.inc). Counts and whole metres are compared
// exactly; quantiles to 1.2 mdB: the cells of either grid (1 mdB here, 0.2 mdB there) and the ten digits
// printed.
#include "job/assess/predict.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace guidepin::job {
namespace planning_test {

enum class Plan { connections, length, spliced, taken_out };
struct Row
{
    Plan kind;
    char const* grade;
    double limit;
    int fibres;
    double share, value;
};
Row const rows[] = {
#include "planning_table.inc"
};

TEST(Planning, AgreesWithScipy)
{
    facts::Tables const& tables = facts::built_in_tables();
    for (Row const& row : rows) {
        SCOPED_TRACE(testing::Message() << static_cast<int>(row.kind) << " " << row.grade << " " << row.limit
                                        << " dB, " << row.fibres << " fibres, " << row.share);
        std::string const grade = row.grade;
        PredictWish wish;
        wish.rules = tables.rule_set("tia-568.3-e").value();
        wish.grade = grade;
        wish.fibre_db_per_km = 1;
        PlannedLink link;
        link.category = tables.category(grade.size() == 2 ? "OM4" : "OS2").value();
        link.wavelength = Nanometres{grade.size() == 2 ? 850 : 1310};
        link.fibres = row.fibres;
        switch (row.kind) {
        case Plan::connections: {
            auto const answer = connections_within(link, wish, Decibel{row.limit}, row.share);
            ASSERT_TRUE(answer.has_value()) << answer.error().message;
            EXPECT_EQ(answer->any, row.value >= 2);
            if (answer->any) {
                EXPECT_EQ(answer->connections + link.ends, static_cast<int>(row.value));
            }
            break;
        }
        case Plan::length: {
            auto const answer = length_within(link, wish, Decibel{row.limit}, row.share);
            ASSERT_TRUE(answer.has_value()) << answer.error().message;
            EXPECT_EQ(answer->any, row.value >= 0);
            if (answer->any) {
                EXPECT_EQ(answer->length_m, std::floor(row.value * 1000));
            }
            break;
        }
        case Plan::spliced:
        case Plan::taken_out: {
            wish.grade = "B";
            wish.limit = Decibel{2};
            link.inner = 1;
            link.splices = 2;
            if (row.kind == Plan::taken_out) link.method = setup::ReferenceMethod::two_cord;
            auto const found = predict_link(link, wish);
            ASSERT_TRUE(found.has_value()) << found.error().message;
            EXPECT_EQ(found->route, "convolution");
            std::size_t told = 0;
            while (told < told_shares.size() && told_shares[told] != row.share) ++told;
            ASSERT_LT(told, told_shares.size());
            EXPECT_NEAR(found->worst_quantiles_db[told], row.value, 1.2e-3);
            break;
        }
        }
    }
}

} // namespace planning_test
} // namespace guidepin::job
