// SPDX-License-Identifier: Apache-2.0
// Somebody else's program on our library: the limit of a 100 m OM4 trunk, and a hash.
#include "loss/limit.hpp"
#include "record/digest.hpp"

#include <cstdio>

int main()
{
    guidepin::facts::Tables const& tables = guidepin::facts::built_in_tables();
    guidepin::loss::LimitQuestion question;
    question.rules = tables.rule_set("tia-568.3-e").value();
    question.category = tables.category("OM4").value();
    question.length = guidepin::Metres{100};
    auto const limit = guidepin::loss::limit_value(question);
    if (!limit) return 1;
    std::printf("%.2f %s\n", limit->value(), guidepin::record::sha256("abc").hex().substr(0, 8).c_str());
    return 0;
}
