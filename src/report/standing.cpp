// SPDX-License-Identifier: Apache-2.0
#include "report/standing.hpp"

namespace guidepin::report {

drawing::Standing standing_of(verdict::State state)
{
    using drawing::Standing;
    switch (state) {
    case verdict::State::pass:
        return Standing::pass;
    case verdict::State::marginal_pass:
        return Standing::marginal_pass;
    case verdict::State::marginal_fail:
        return Standing::marginal_fail;
    case verdict::State::fail:
        return Standing::fail;
    case verdict::State::held:
        return Standing::held;
    case verdict::State::open:
        return Standing::open;
    }
    return Standing::open;
}

drawing::Token token_of(drawing::Standing standing)
{
    using drawing::Standing;
    using drawing::Token;
    switch (standing) {
    case Standing::pass:
    case Standing::marginal_pass:
        return Token::pass;
    case Standing::marginal_fail:
    case Standing::fail:
        return Token::fail;
    case Standing::held:
        return Token::held;
    case Standing::open:
    case Standing::unused:
        return Token::open;
    }
    return Token::ink;
}

} // namespace guidepin::report
