// SPDX-License-Identifier: Apache-2.0
// The cheapest one item that makes a plan possible, by trying each item of a small catalogue in order of
// price; then what else would do, and the cheapest two.
#include "base/text.hpp"
#include "setup/ways_out.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace guidepin::setup {

using plant::KeyRelation;
using plant::Pins;

namespace {

std::string ends_text(Cord const& cord)
{
    auto const end_text = [](CordEnd const& end) {
        std::string text = plant::name_of(end.plug.pins);
        if (end.plug.face == plant::Face::angled) {
            text += end.plug.slope == plant::Slope::up ? " angled, up-angled plug" : " angled";
        }
        return text;
    };
    return fmt::format("{} to {}", end_text(cord.ends[0]), end_text(cord.ends[1]));
}

std::vector<Remedy> catalogue(Question const& question)
{
    std::vector<Remedy> items;
    plant::Family::Key const family = question.cabling.first.plug.family.key;
    std::string const family_name = plant::words_of(question.cabling.first.plug.family);
    for (KeyRelation const keys : {KeyRelation::opposed, KeyRelation::aligned}) {
        Remedy remedy;
        remedy.item = AdapterStock{keys, family, 1};
        remedy.text = fmt::format("an adapter with {} keys ({})", plant::name_of(keys), family_name);
        remedy.price_class = 1;
        items.push_back(std::move(remedy));
    }
    if (!question.kit.has_pin_tool(family)) {
        Remedy remedy;
        remedy.item = PinTool{"borrowed pin tool", family};
        remedy.text = fmt::format("a tool to change pins ({})", family_name);
        remedy.price_class = 2;
        items.push_back(std::move(remedy));
    }
    Kit const full = complete_kit(question.source, question.meter, question.cabling, false);
    for (bool const exchangeable : {false, true}) {
        for (std::size_t c = 0; c < full.cords.size(); c += 2) { // every second is a copy
            Cord cord = full.cords[c];
            cord.id = "borrowed cord";
            if (exchangeable) {
                for (CordEnd& end : cord.ends) end.pins_exchangeable = true;
            }
            Remedy remedy;
            remedy.text =
                fmt::format("a reference-grade {} cord, {}{}", plant::words_of(cord.ends[0].plug.family),
                            ends_text(cord), exchangeable ? ", with pins that can be changed" : "");
            remedy.item = std::move(cord);
            remedy.price_class = exchangeable ? 4 : 3;
            items.push_back(std::move(remedy));
        }
    }
    return items;
}

} // namespace

Kit with_item(Kit kit, Remedy const& remedy)
{
    if (auto const* cord = std::get_if<Cord>(&remedy.item)) {
        Cord added = *cord;
        for (int n = 2;; ++n) { // a label of its own, whatever the kit holds
            bool taken = false;
            for (Cord const& other : kit.cords) taken = taken || other.id == added.id;
            if (!taken) break;
            added.id = fmt::format("{} {}", cord->id, n);
        }
        kit.cords.push_back(std::move(added));
    } else if (auto const* adapter = std::get_if<AdapterStock>(&remedy.item)) {
        kit.adapters.push_back(*adapter);
    } else {
        kit.pin_tools.push_back(std::get<PinTool>(remedy.item));
    }
    return kit;
}

Result<std::optional<Remedy>> cheapest_remedy(Question const& question);

Result<std::optional<Remedy>> cheapest_remedy(Question const& question)
{
    std::optional<Remedy> best;
    for (Remedy& remedy : catalogue(question)) {
        if (best && remedy.price_class > best->price_class) break;
        Question with = question;
        with.kit = with_item(question.kit, remedy);
        TRY_ASSIGN(Answer const answer, solve(with, SolveOptions{false}));
        if (!answer.plan || (best && best->cost <= answer.plan->cost)) continue;
        remedy.cost = answer.plan->cost;
        remedy.arrangement = answer.plan->arrangement;
        best = std::move(remedy);
    }
    return best;
}

namespace {

std::string cost_text(Cost const& cost)
{
    return fmt::format("{} pin change{}, {} mating{}, {} item{}", cost.pin_changes,
                       plural_ending(cost.pin_changes), cost.reference_matings,
                       plural_ending(cost.reference_matings), cost.items, plural_ending(cost.items));
}

std::string hidden_text(Arrangement arrangement)
{
    int const joints = joints_in_reference(method_of(arrangement));
    return joints == 0 ? std::string()
                       : fmt::format("; {} joint{} hidden in the reference", joints, plural_ending(joints));
}

} // namespace

Result<std::vector<WayOut>> ways_out(Question const& question)
{
    std::vector<WayOut> ways;
    Question other = question;
    other.cabling = turned(question.cabling);
    other.in_force.reset();
    CablingEnd const& end = question.cabling.second;
    std::string const from =
        fmt::format("launch at the other end of the cabling{}, {}",
                    end.name.empty() ? "" : " (" + end.name + ")", plant::name_of(end.plug.pins));
    TRY_ASSIGN(Answer const turned_answer, solve(other, SolveOptions{false}));
    if (turned_answer.plan) {
        Plan const& plan = *turned_answer.plan;
        ways.push_back({plan.arrangement, true, true, plan.cost,
                        fmt::format("{}: {}, {}{}", from, words_of(plan.arrangement), cost_text(plan.cost),
                                    hidden_text(plan.arrangement))});
    }
    for (Arrangement const arrangement :
         {Arrangement::one_cord, Arrangement::changer, Arrangement::two_cord, Arrangement::three_cord}) {
        if (std::find(question.permitted.begin(), question.permitted.end(), arrangement) !=
            question.permitted.end())
            continue;
        std::optional<WayOut> best;
        for (bool const turn : {false, true}) {
            Question asked = turn ? other : question;
            asked.permitted = {arrangement};
            asked.in_force.reset();
            TRY_ASSIGN(Answer const answer, solve(asked, SolveOptions{false}));
            if (!answer.plan || (best && best->cost <= answer.plan->cost)) continue;
            best = WayOut{arrangement, turn, false, answer.plan->cost,
                          fmt::format("the {} method, where the contract permits it{}: {}{}",
                                      name_of(arrangement), turn ? ", and " + from : "",
                                      cost_text(answer.plan->cost), hidden_text(arrangement))};
        }
        if (best) ways.push_back(std::move(*best));
    }
    return ways;
}

Result<std::optional<RemedyPair>> cheapest_pair(Question const& question)
{
    std::vector<Remedy> const items = catalogue(question);
    std::vector<std::pair<std::size_t, std::size_t>> order;
    for (std::size_t i = 0; i < items.size(); ++i) {
        for (std::size_t j = i; j < items.size(); ++j) order.emplace_back(i, j);
    }
    auto const price = [&](std::pair<std::size_t, std::size_t> const& pair) {
        return items[pair.first].price_class + items[pair.second].price_class;
    };
    std::stable_sort(order.begin(), order.end(),
                     [&](auto const& a, auto const& b) { return price(a) < price(b); });
    std::optional<RemedyPair> best;
    int best_price = 0;
    for (auto const& pair : order) {
        if (best && price(pair) > best_price) break;
        Question with = question;
        with.kit = with_item(with_item(question.kit, items[pair.first]), items[pair.second]);
        TRY_ASSIGN(Answer const answer, solve(with, SolveOptions{false}));
        if (!answer.plan || (best && best->cost <= answer.plan->cost)) continue;
        best = RemedyPair{items[pair.first], items[pair.second], answer.plan->cost,
                          fmt::format("{}, and {}", items[pair.first].text, items[pair.second].text)};
        best_price = price(pair);
    }
    return best;
}

} // namespace guidepin::setup
