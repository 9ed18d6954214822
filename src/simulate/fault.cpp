// SPDX-License-Identifier: Apache-2.0
#include "simulate/fault.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

namespace guidepin::simulate {

namespace {

constexpr std::array<char const*, fault_count> ids{"dirty-or-damaged-end-face",
                                                   "macrobend",
                                                   "misaligned-ferrule",
                                                   "unpinned-joint",
                                                   "face-mismatch",
                                                   "broken-fibre",
                                                   "extra-connection",
                                                   "core-size-mismatch",
                                                   "reference-fault",
                                                   "reference-drift",
                                                   "test-cord-position",
                                                   "wrong-trunk-type",
                                                   "wrong-adapter",
                                                   "wrong-test-cord",
                                                   "crossed-fibres",
                                                   "shifted-row",
                                                   "swapped-blocks",
                                                   "swapped-rows",
                                                   "length-mismatch",
                                                   "mislabelled-link",
                                                   "copied-measurement"};

Result<Wish> parse_wish(std::string_view word)
{
    Wish wish;
    std::string_view name = word;
    if (auto const at = name.find('@'); at != std::string_view::npos) {
        auto const strength = parse_number(name.substr(at + 1));
        if (!strength || !(*strength > 0) || *strength > 40)
            return Error{Errc::usage,
                         fmt::format("\"{}\": the strength behind @ is more than 0 and up to 40 dB", word)};
        wish.strength_db = *strength;
        name = name.substr(0, at);
    }
    if (auto const colon = name.find(':'); colon != std::string_view::npos) {
        auto const count = parse_integer(name.substr(colon + 1));
        if (!count || *count < 1 || *count > 100000)
            return Error{Errc::usage, fmt::format("\"{}\": the count behind : is 1 to 100000", word)};
        wish.count = static_cast<int>(*count);
        name = name.substr(0, colon);
    }
    auto const fault = parse_fault(name);
    if (!fault) {
        return Error{Errc::usage, fmt::format("There is no fault \"{}\"{}", name,
                                              did_you_mean(name, {ids.begin(), ids.end()}))};
    }
    wish.fault = *fault;
    return wish;
}

} // namespace

char const* id_of(Fault fault)
{
    return ids[static_cast<std::size_t>(fault)];
}

std::optional<Fault> parse_fault(std::string_view id)
{
    for (std::size_t i = 0; i < fault_count; ++i) {
        if (id == ids[i]) return static_cast<Fault>(i);
    }
    return std::nullopt;
}

bool has_strength(Fault fault)
{
    return fault <= Fault::test_cord_position && fault != Fault::broken_fibre;
}

Result<std::vector<Wish>> parse_wishes(std::string_view text)
{
    std::vector<Wish> wishes;
    if (text.empty() || text == "none") return wishes;
    for (std::string_view const part : split(text, ',')) {
        std::string_view const word = trimmed(part);
        if (word == "all" || word.starts_with("all:") || word.starts_with("all@")) {
            for (std::size_t i = 0; i < fault_count; ++i) {
                TRY_ASSIGN(Wish wish, parse_wish(std::string{ids[i]} + std::string{word.substr(3)}));
                if (!has_strength(wish.fault)) wish.strength_db.reset();
                wishes.push_back(wish);
            }
            continue;
        }
        TRY_ASSIGN(Wish const wish, parse_wish(word));
        wishes.push_back(wish);
    }
    return wishes;
}

} // namespace guidepin::simulate
