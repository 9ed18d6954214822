// SPDX-License-Identifier: Apache-2.0
#include "drawing/theme.hpp"

#include <array>
#include <cassert>

#include <fmt/format.h>

namespace guidepin::drawing {

namespace {

struct TokenRow
{
    Token token;
    char const* name;
    Colour light, dark, paper;
};

// On paper the ground is the sheet, so tints are a little stronger and ink a little darker than on screen.
constexpr std::array<TokenRow, 12> tokens{{
    {Token::ink, "ink", {0x1d, 0x23, 0x28}, {0xe9, 0xe6, 0xde}, {0x16, 0x1b, 0x20}},
    {Token::quiet, "quiet", {0x57, 0x60, 0x68}, {0xa7, 0xad, 0xb2}, {0x4d, 0x56, 0x5e}},
    {Token::faint, "faint", {0xc9, 0xc4, 0xb8}, {0x43, 0x4a, 0x51}, {0xc4, 0xc4, 0xbf}},
    {Token::paper, "paper", {0xfb, 0xf9, 0xf4}, {0x15, 0x19, 0x1c}, {0xff, 0xff, 0xff}},
    {Token::tint, "tint", {0xf1, 0xed, 0xe3}, {0x20, 0x26, 0x2b}, {0xf3, 0xf1, 0xec}},
    {Token::accent, "accent", {0x17, 0x4a, 0x5b}, {0x8c, 0xc4, 0xd3}, {0x17, 0x4a, 0x5b}},
    {Token::pass, "pass", {0x2a, 0x6d, 0xab}, {0x6c, 0xb0, 0xe8}, {0x2a, 0x6d, 0xab}},
    {Token::pass_tint, "pass-tint", {0xdf, 0xea, 0xf4}, {0x1c, 0x33, 0x47}, {0xdf, 0xea, 0xf4}},
    {Token::fail, "fail", {0xbd, 0x3a, 0x0f}, {0xff, 0x86, 0x58}, {0xbd, 0x3a, 0x0f}},
    {Token::fail_tint, "fail-tint", {0xfa, 0xe3, 0xd8}, {0x4a, 0x23, 0x14}, {0xfa, 0xe3, 0xd8}},
    {Token::held, "held", {0x6b, 0x66, 0x5a}, {0xb9, 0xb2, 0xa1}, {0x5f, 0x5a, 0x50}},
    {Token::open, "open", {0x72, 0x7a, 0x81}, {0x8f, 0x97, 0x9d}, {0x6a, 0x72, 0x79}},
}};

// Identity only, in the order of TIA-598; the same on every ground, always with an outline in ink.
constexpr std::array<Colour, 12> fibres{{{0x1f, 0x5f, 0xbf},
                                         {0xe0, 0x7b, 0x1a},
                                         {0x2e, 0x8b, 0x47},
                                         {0x7b, 0x4a, 0x2a},
                                         {0x7d, 0x87, 0x90},
                                         {0xf4, 0xf2, 0xec},
                                         {0xc9, 0x30, 0x2f},
                                         {0x23, 0x25, 0x2a},
                                         {0xe8, 0xc5, 0x1f},
                                         {0x7a, 0x4f, 0xa3},
                                         {0xe5, 0x8f, 0xa8},
                                         {0x4f, 0xb6, 0xc2}}};

TokenRow const& row_of(Token token)
{
    for (TokenRow const& row : tokens) {
        if (row.token == token) return row;
    }
    assert(false);
    return tokens[0];
}

std::string variables(Theme theme)
{
    std::string text;
    for (TokenRow const& row : tokens) {
        text += fmt::format("--gp-{}:{};", row.name, hex_text(colour_of(paint(row.token), theme)));
    }
    for (int fibre = 1; fibre <= 12; ++fibre) {
        text += fmt::format("--gp-fibre-{}:{};", fibre, hex_text(colour_of(fibre_paint(fibre), theme)));
    }
    return text;
}

} // namespace

Colour colour_of(Paint paint, Theme theme)
{
    if (paint.token == Token::fibre) return fibres[static_cast<std::size_t>((paint.fibre + 11) % 12)];
    TokenRow const& row = row_of(paint.token);
    return theme == Theme::dark ? row.dark : theme == Theme::paper ? row.paper : row.light;
}

std::string hex_text(Colour colour)
{
    return fmt::format("#{:02x}{:02x}{:02x}", colour.red, colour.green, colour.blue);
}

std::string css_name(Paint paint)
{
    if (paint.token == Token::fibre) return fmt::format("fibre-{}", paint.fibre);
    return row_of(paint.token).name;
}

std::string stylesheet()
{
    std::string text = fmt::format(":root{{{}}}\n", variables(Theme::light));
    text += fmt::format("@media (prefers-color-scheme:dark){{:root:not([data-theme=light]){{{}}}}}\n",
                        variables(Theme::dark));
    text += fmt::format(":root[data-theme=dark]{{{}}}\n", variables(Theme::dark));
    text += fmt::format("@media print{{:root,:root:not([data-theme=light]),:root[data-theme=dark]{{{}}}}}\n",
                        variables(Theme::paper));
    text += ".gp{max-width:100%;height:auto}\n";
    text +=
        ".gp text{font-family:var(--gp-type,B612,\"Noto Sans\",\"DejaVu Sans\",sans-serif);font-kerning:none;"
        "font-variant-ligatures:none;white-space:pre}\n";
    text += ".gp .t-b{font-weight:700}.gp .t-i{font-style:italic}"
            ".gp .t-m{font-family:var(--gp-mono,\"B612 Mono\",\"DejaVu Sans Mono\",monospace)}\n";
    text += ".gp .f-none{fill:none}.gp .d{stroke-dasharray:3 2.5}\n";
    auto const classes = [&](Paint paint) {
        std::string const name = css_name(paint);
        text += fmt::format(".gp .f-{0}{{fill:var(--gp-{0})}}.gp .s-{0}{{stroke:var(--gp-{0})}}\n", name);
    };
    for (TokenRow const& row : tokens) classes(paint(row.token));
    for (int fibre = 1; fibre <= 12; ++fibre) classes(fibre_paint(fibre));
    return text;
}

} // namespace guidepin::drawing
