// SPDX-License-Identifier: Apache-2.0
#include "facts/fact.hpp"

namespace guidepin::facts {
namespace {

bool is_digit(char letter)
{
    return letter >= '0' && letter <= '9';
}
bool is_capital(char letter)
{
    return letter >= 'A' && letter <= 'Z';
}

} // namespace

char const* name_of(Basis basis)
{
    switch (basis) {
    case Basis::standard:
        return "standard";
    case Basis::secondary:
        return "secondary";
    case Basis::common_practice:
        return "common-practice";
    case Basis::memory:
        return "memory";
    case Basis::derived:
        return "derived";
    }
    return "";
}

std::optional<Basis> parse_basis(std::string_view text)
{
    for (auto const basis :
         {Basis::standard, Basis::secondary, Basis::common_practice, Basis::memory, Basis::derived}) {
        if (text == name_of(basis)) return basis;
    }
    return std::nullopt;
}

std::string Source::text() const
{
    std::string line = document;
    // Documents are cited as their publishers do: TIA-568.3-E, IEC 61280-4-5:2020; other editions in
    // brackets.
    bool const letter =
        !edition.empty() && is_capital(edition[0]) && (edition.size() == 1 || edition[1] == ' ');
    bool const year = edition.size() >= 4 && is_digit(edition[0]) && is_digit(edition[1]) &&
                      is_digit(edition[2]) && is_digit(edition[3]) &&
                      (edition.size() == 4 || edition[4] == ' ');
    if (letter) {
        line += "-" + edition;
    } else if (year) {
        line += ":" + edition;
    } else if (!edition.empty()) {
        line += " (" + edition + ")";
    }
    if (!clause.empty()) line += ", " + clause;
    return line;
}

} // namespace guidepin::facts
