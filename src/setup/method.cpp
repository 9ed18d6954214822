// SPDX-License-Identifier: Apache-2.0
#include "setup/method.hpp"

namespace guidepin::setup {

char const* name_of(ReferenceMethod method)
{
    switch (method) {
    case ReferenceMethod::one_cord:
        return "one-cord";
    case ReferenceMethod::two_cord:
        return "two-cord";
    case ReferenceMethod::three_cord:
        return "three-cord";
    }
    return "";
}

char const* words_of(ReferenceMethod method)
{
    switch (method) {
    case ReferenceMethod::one_cord:
        return "one-cord reference";
    case ReferenceMethod::two_cord:
        return "two-cord reference";
    case ReferenceMethod::three_cord:
        return "three-cord reference";
    }
    return "";
}

std::optional<ReferenceMethod> parse_reference_method(std::string_view text)
{
    for (auto const method :
         {ReferenceMethod::one_cord, ReferenceMethod::two_cord, ReferenceMethod::three_cord}) {
        if (text == name_of(method)) return method;
    }
    return std::nullopt;
}

} // namespace guidepin::setup
