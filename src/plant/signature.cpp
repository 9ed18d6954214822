// SPDX-License-Identifier: Apache-2.0
#include "plant/signature.hpp"
#include "base/text.hpp"

#include "plant/presets.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdlib>

namespace guidepin::plant {

namespace {

/// One reading against what was promised; d is the difference seen at the far end.
struct Comparison
{
    Family family;
    PositionMap expected, measured, d;
    Occupancy dark, extra; ///< near positions

    int row_of(int position) const { return (position - 1) / family.columns; }

    bool two_rows() const { return family.rows == 2; }

    template <class Formula>
    bool every(Formula const& formula) const
    {
        for (int const q : positions_of(d.near_positions())) {
            if (!formula(q, d.at(q))) return false;
        }
        return !d.empty();
    }
    bool is_preset(PositionMap const& preset) const
    {
        return every([&preset](int q, int r) { return preset.at(q) == r; });
    }
    std::vector<int> near_of(std::vector<Place> const& far) const
    {
        PositionMap const back = expected.inverse();
        std::vector<int> near;
        for (Place const place : far) {
            int const p = back.at(place.position);
            if (p > 0) near.push_back(p);
        }
        std::sort(near.begin(), near.end());
        return near;
    }
};

std::string positions_text(std::vector<int> const& positions)
{
    std::string text;
    for (int const p : positions) text += (text.empty() ? "" : ", ") + std::to_string(p);
    return text;
}

/// Which one it is, the reading cannot say: each of these changes the parity of reversals by one.
std::vector<Signature> reversal()
{
    return {
        Signature{
            SignatureKind::wrong_test_cord,
            "All positions are mirrored, as with one test cord of the other type (A for B or B for A).",
            "Look at the other links of this job first: if all of them read as the inverse class, it is the "
            "test cords and not the cabling. Read both cord legends.",
            {},
            true},
        Signature{
            SignatureKind::wrong_adapter,
            "All positions are mirrored, as with one panel adapter of the other kind (aligned for opposed or "
            "opposed for aligned).",
            "Count the aligned-key adapters on the path; only odd or even shows in the reading.",
            {},
            true},
        Signature{SignatureKind::wrong_trunk_type,
                  "All positions are mirrored, as with a type A trunk where B was planned, or B where A was "
                  "planned.",
                  "Read the legend on the trunk.",
                  {},
                  true},
        Signature{
            SignatureKind::turned_key,
            "All positions are mirrored, as with one plug whose key was turned, or one module mounted upside "
            "down.",
            "Look at the key side of each plug against its white mark, and at the modules.",
            {},
            true},
    };
}

// Patterns that cover the whole row: each returns its signature, or nothing if the difference is another.

std::vector<Signature> shifted_row(Comparison const& c)
{
    int const first = positions_of(c.d.near_positions()).front();
    int const shift = c.d.at(first) - first;
    bool const shifted = shift != 0 && c.dark.any() && c.d.size() >= 2 &&
                         c.every([&](int q, int r) { return r - q == shift && c.row_of(q) == c.row_of(r); });
    if (!shifted) return {};
    return {Signature{
        SignatureKind::shifted_row,
        fmt::format("Every fibre arrives {} hole{} {}, and {} lost at the edge: the ribbon sits off "
                    "in one ferrule.",
                    std::abs(shift), plural_ending(std::abs(shift)), shift > 0 ? "up" : "down",
                    c.dark.count() == 1 ? "one is" : fmt::format("{} are", c.dark.count())),
        "View both end faces of the trunk and count the filled holes.",
        positions_of(c.expected.near_positions()), false}};
}

std::vector<Signature> swapped_rows(Comparison const& c)
{
    int const n = c.family.columns;
    if (!c.two_rows() || !c.every([&](int q, int r) { return r == (q <= n ? q + n : q - n); })) return {};
    return {
        Signature{SignatureKind::swapped_rows,
                  "The two rows are exchanged, as with one opposed-key adapter more or less than planned, a "
                  "trunk of the other two-row family, or two twelve-fibre legs exchanged.",
                  "Look at the legs first, then at the adapters, then ask for the trunk's map.",
                  {},
                  false}};
}

std::vector<Signature> swapped_blocks(Comparison const& c)
{
    if (c.two_rows() || c.family.columns != 12) return {};
    auto const block = [](int q) { return q <= 4 ? q + 8 : q >= 9 ? q - 8 : q; };
    if (!c.every([&](int q, int r) { return r == block(q); })) return {};
    return {Signature{SignatureKind::swapped_blocks,
                      "Positions 1-4 and 9-12 are exchanged in order, without reversal: two four-fibre "
                      "groups changed places in a harness or trunk.",
                      "Look at how the harness or trunk was built.",
                      {},
                      false}};
}

std::vector<Signature> reversed_row(Comparison const& c)
{
    bool const reversed = c.is_preset(key_turn_map(c.family)) ||
                          (c.two_rows() && c.is_preset(adapter_map(KeyRelation::aligned, c.family)));
    return reversed ? reversal() : std::vector<Signature>{};
}

std::vector<Signature> flipped_pairs(Comparison const& c)
{
    Result<PositionMap> const pairs = cable_map("C", c.family);
    if (!pairs || !c.is_preset(*pairs)) return {};
    return {
        Signature{SignatureKind::wrong_trunk_type,
                  "Neighbours of every pair are exchanged, as with a type C trunk where A or B was planned, "
                  "or the reverse.",
                  "Read the legend on the trunk.",
                  {},
                  false}};
}

std::vector<Signature> flipped_pairs_reversed(Comparison const& c)
{
    Result<PositionMap> const both = cable_map("RW", c.family);
    if (!both || !c.is_preset(*both)) return {};
    return {Signature{SignatureKind::wrong_trunk_type,
                      "Pairs are exchanged and the row is mirrored as well, as with a type C trunk and one "
                      "reversal too many, or a part of type B with pairs flipped.",
                      "Read the legends of trunk and test cords, then count the aligned-key adapters.",
                      {},
                      false}};
}

std::vector<Signature> one_leg_wrong(Comparison const& c)
{
    if (!c.two_rows()) return {};
    int const n = c.family.columns;
    int const all = c.family.positions();
    int moved[2] = {0, 0};
    int lit[2] = {0, 0};
    bool rows_kept = true;
    for (int const q : positions_of(c.d.near_positions())) {
        int const row = c.row_of(q);
        ++lit[row];
        if (c.d.at(q) != q) ++moved[row];
        if (c.row_of(c.d.at(q)) != row) rows_kept = false;
    }
    for (int const row : {0, 1}) {
        if (!rows_kept || moved[row] * 2 <= lit[row] || moved[1 - row] != 0 || lit[1 - row] == 0) continue;
        std::vector<int> near;
        for (int const p : positions_of(c.expected.near_positions())) {
            if (c.row_of(c.expected.at(p)) == row) near.push_back(p);
        }
        return {
            Signature{SignatureKind::one_leg_wrong,
                      fmt::format("One row arrives as planned, the other (far positions {} to {}) does not: "
                                  "one of two legs is wrong.",
                                  row * n + 1, (row + 1) * n > all ? all : (row + 1) * n),
                      "Look at that leg.", near, false}};
    }
    return {};
}

std::vector<Signature> whole_pattern(Comparison const& c)
{
    for (auto const& pattern : {&shifted_row, &swapped_rows, &swapped_blocks, &reversed_row, &flipped_pairs,
                                &flipped_pairs_reversed, &one_leg_wrong}) {
        if (std::vector<Signature> found = pattern(c); !found.empty()) return found;
    }
    return {};
}

void add_crossings(std::vector<Signature>& signatures, Comparison const& c)
{
    Difference const difference = plant::difference(c.expected, c.measured);
    for (std::vector<Place> const& cycle : difference.cycles) {
        std::vector<int> const near = c.near_of(cycle);
        bool const inside_pair = near.size() == 2 && near[0] % 2 == 1 && near[1] == near[0] + 1;
        if (inside_pair) {
            signatures.push_back(Signature{
                SignatureKind::crossed_pair,
                fmt::format(
                    "Positions {} are exchanged: two fibres crossed at one end, or a duplex plug turned in "
                    "its clip.",
                    positions_text(near)),
                fmt::format("Look at LC pair {} at both ends.", (near[0] + 1) / 2), near, false});
        } else if (near.size() == 2) {
            signatures.push_back(Signature{
                SignatureKind::crossed_fibres,
                fmt::format("Positions {} are exchanged: two fibres crossed in a ferrule or module.",
                            positions_text(near)),
                "Exchange the module, or have the ferrule rebuilt.", near, false});
        } else {
            signatures.push_back(Signature{
                SignatureKind::crossed_fibres,
                fmt::format("Positions {} change places among themselves: several fibres crossed, a ribbon "
                            "peeled wrongly.",
                            positions_text(near)),
                "Have the ferrule rebuilt, or exchange the trunk.", near, false});
        }
    }
    for (std::vector<Place> const& path : difference.paths) {
        std::vector<int> const near = c.near_of(path);
        signatures.push_back(
            Signature{SignatureKind::crossed_fibres,
                      fmt::format("Positions {} arrive elsewhere or not at all: crossed fibres, and "
                                  "at least one broken or misread.",
                                  positions_text(near)),
                      "Trace these fibres one by one.", near, false});
    }
}

void add_darkness(std::vector<Signature>& signatures, Comparison const& c)
{
    bool const one_row_12 = c.family.rows == 1 && c.family.columns == 12;
    std::vector<int> const dark = positions_of(c.dark);
    std::vector<int> const lit = positions_of(c.measured.near_positions());
    if (c.dark.any()) {
        if (one_row_12 && lit == std::vector<int>{3, 4, 9, 10}) {
            signatures.push_back(
                Signature{SignatureKind::occupancy_differs,
                          "Only positions 3, 4, 9 and 10 are lit: eight outer fibres meet eight "
                          "centred ones.",
                          "View the end faces on both sides of each joint.", dark, false});
        } else if (one_row_12 && dark == std::vector<int>{5, 6, 7, 8}) {
            signatures.push_back(
                Signature{SignatureKind::base_8_population,
                          "Only the four middle positions are dark: the cabling, or a cord, has "
                          "eight outer fibres.",
                          "If that is what was planned, state the fibres as 8-outer in the schedule; "
                          "it is no fault then.",
                          dark, false});
        } else {
            signatures.push_back(
                Signature{SignatureKind::dark_fibres,
                          fmt::format("No light on {}: broken, dirty, or not there.", positions_text(dark)),
                          "Clean and inspect both ends, then trace these fibres.", dark, false});
        }
    }
    if (c.extra.any()) {
        std::vector<int> const extra = positions_of(c.extra);
        signatures.push_back(Signature{
            SignatureKind::extra_fibres,
            fmt::format("Light on {}, where the schedule has no fibre.", positions_text(extra)),
            "Compare the schedule's fibres with the end face; it may be another link.", extra, false});
    }
}

} // namespace

std::vector<Signature> signature_of(Family const& family, PositionMap const& expected,
                                    PositionMap const& measured)
{
    if (expected == measured) return {};
    if (measured.empty()) {
        return {Signature{
            SignatureKind::all_dark,
            "No light at all: wrong port, a break, one row against two rows, or two pinned plugs that "
            "did not seat.",
            "Check the port labels, then the pins and the rows of each joint. Never look into a fibre.",
            positions_of(expected.near_positions()), false}};
    }
    Comparison c;
    c.family = family;
    c.expected = expected;
    c.measured = measured;
    c.d = expected.inverse().then(measured);
    c.dark = expected.near_positions() & ~measured.near_positions();
    c.extra = measured.near_positions() & ~expected.near_positions();

    std::vector<Signature> signatures;
    bool const moved = !c.every([](int q, int r) { return q == r; });
    if (moved && !c.d.empty()) signatures = whole_pattern(c);
    bool const shifted = !signatures.empty() && signatures.front().kind == SignatureKind::shifted_row;
    if (signatures.empty() && moved) add_crossings(signatures, c);
    if (!shifted) add_darkness(signatures, c);
    return signatures;
}

} // namespace guidepin::plant
