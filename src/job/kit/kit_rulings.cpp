// SPDX-License-Identifier: Apache-2.0
#include "job/kit/kit_rulings.hpp"

#include "base/text.hpp"

#include <algorithm>
#include <iterator>
#include <set>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

/// Returns what a person can do about a refusal.
std::string way_out(setup::FitnessMatter about, bool with_job)
{
    if (!with_job) return "Use another, or enter its new calibration in the kit file.";
    using enum setup::FitnessMatter;
    std::string const remedy = about == calibration ? "enter its new calibration"
                               : about == end_face  ? "clean and inspect it"
                               : about == pins      ? "find the pin and count again"
                                                    : "give it new plugs";
    return fmt::format("Use another, {}, or override it with a reason.", remedy);
}

void add_rulings(ItemRuling& ruling, std::vector<setup::FitnessFinding> const& findings, bool with_job)
{
    for (setup::FitnessFinding const& finding : findings) {
        if (finding.fitness == setup::Fitness::overridden) {
            ruling.overridden.push_back(
                fmt::format("{} Used by decision of {}", finding.text, finding.override_reason));
            if (ruling.overridden.back().back() != '.') ruling.overridden.back() += '.';
        } else if (finding.fitness == setup::Fitness::refused) {
            ruling.refused.push_back(fmt::format("{} {}", finding.refusal, way_out(finding.about, with_job)));
        }
    }
}

} // namespace

Outcome may_be_used(KitBook const& book, TestKit const& kit, setup::Day today,
                    std::vector<KitOverride> const& decisions)
{
    std::vector<std::string> refusals;
    for (std::string const& serial : kit.serials()) {
        if (!book.history().knows(serial)) continue; // the reference itself gets a remark
        KitItem const& item = book.history().latest(serial);
        if (item.removed) {
            refusals.push_back(
                fmt::format("{} left the kit: {}. Use another, or register it again.", serial, item.reason));
            continue;
        }
        KitStanding standing = book.standing(serial, today);
        book.judge(standing, today, 1, decisions);
        for (setup::FitnessFinding const& finding : standing.findings) {
            if (finding.fitness != setup::Fitness::refused) continue;
            // If only the job sheet names the item, the reference is kept and gets the refusal as its reason.
            if (finding.about == setup::FitnessMatter::calibration && !standing.registered) continue;
            refusals.push_back(finding.text);
        }
    }
    if (refusals.empty()) return {};
    return Error{Errc::refused, joined(refusals, "\n")};
}

Outcome may_be_used(JobState const& state, TestKit const& kit, setup::Day today,
                    std::vector<KitOverride> const& decisions)
{
    return may_be_used(KitBook(state), kit, today, decisions);
}

KitRulings kit_rulings(KitFile const& kit, JobState const* state, setup::Day today)
{
    std::optional<KitBook> book;
    if (state) book.emplace(*state);
    setup::RegisterLimits const limits = book ? book->limits() : setup::RegisterLimits{};
    KitRulings rulings;
    auto const judge = [&](std::string const& serial, KitInstrument const* instrument) {
        ItemRuling ruling;
        std::vector<setup::FitnessFinding> findings;
        std::vector<setup::Override> decisions;
        bool registered = false;
        if (book && book->history().knows(serial)) {
            KitItem const& item = book->history().latest(serial);
            registered = book->history().is_registered(serial);
            if (item.removed) {
                ruling.refused.push_back(fmt::format(
                    "{} left the kit: {}. Use another, or register it again.", serial, item.reason));
                rulings.emplace(serial, std::move(ruling));
                return;
            }
            KitStanding standing = book->standing(serial, today);
            book->judge(standing, today, 1);
            findings = std::move(standing.findings);
            for (KitOverride const& each : standing.overrides)
                decisions.push_back({each.item, each.person, each.reason, each.about});
        }
        if (instrument && !registered && instrument->entry.calibration_due) {
            std::erase_if(findings, [](auto const& finding) {
                return finding.about == setup::FitnessMatter::calibration;
            });
            setup::Instrument entry = instrument->entry;
            entry.name = name_of(instrument->role);
            auto own = setup::check_fitness({&entry, 1}, {}, limits, today, decisions);
            std::move(own.begin(), own.end(), std::back_inserter(findings));
        }
        add_rulings(ruling, findings, state != nullptr);
        if (!ruling.refused.empty() || !ruling.overridden.empty()) rulings.emplace(serial, std::move(ruling));
    };
    for (KitInstrument const& each : kit.instruments) judge(each.entry.serial, &each);
    for (setup::Cord const& each : kit.kit.cords) judge(each.id, nullptr);
    return rulings;
}

KitFile without_refused(KitFile kit, KitRulings const& rulings)
{
    auto const refused = [&](std::string const& serial) {
        auto const found = rulings.find(serial);
        return found != rulings.end() && !found->second.refused.empty();
    };
    std::erase_if(kit.instruments, [&](KitInstrument const& each) { return refused(each.entry.serial); });
    std::erase_if(kit.kit.cords, [&](setup::Cord const& each) { return refused(each.id); });
    return kit;
}

Result<KitOverride> override_now(KitBook const& book, std::string const& serial, std::string const& reason,
                                 setup::Day today)
{
    if (!book.history().knows(serial)) {
        return Error{Errc::not_found, fmt::format("The kit has no {}{}", serial,
                                                  did_you_mean(serial, book.history().serials()))};
    }
    KitOverride decision;
    decision.item = serial;
    decision.reason = reason;
    KitStanding standing = book.standing(serial, today);
    if (standing.item.removed)
        return Error{Errc::invalid_input,
                     fmt::format("{} left the kit; register it again instead of overriding", serial)};
    book.judge(standing, today, 1);
    std::set<setup::FitnessMatter> about;
    for (setup::FitnessFinding const& finding : standing.findings) {
        if (finding.fitness == setup::Fitness::refused) about.insert(finding.about);
    }
    if (about.empty())
        return Error{Errc::invalid_input,
                     fmt::format("{}: nothing is refused of it; there is nothing to override", serial)};
    decision.about.assign(about.begin(), about.end());
    TRY(kit_override_body(decision));
    return decision;
}

Result<KitOverride> override_now(JobState const& state, std::string const& serial, std::string const& reason,
                                 setup::Day today)
{
    return override_now(KitBook(state), serial, reason, today);
}

} // namespace guidepin::job
