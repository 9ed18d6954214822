// SPDX-License-Identifier: Apache-2.0
#include "loss/limit.hpp"

#include "base/text.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

namespace guidepin::loss {
namespace {

enum class LimitPart { cable, ends, reference, inner, splices };

struct LimitTerm
{
    LimitPart part = LimitPart::cable;
    double count = 0;
    facts::Fact const* fact = nullptr;

    Decibel loss() const { return Decibel{fact->value * count}; }
};

/// Five terms in the order of the formula. Sums always run in this order, so that both functions agree to the
/// bit.
struct Terms
{
    std::array<LimitTerm, 5> all;
    std::size_t size = 0;

    void add(LimitPart part, double count, facts::Fact const* fact)
    {
        if (count != 0 || part == LimitPart::cable) all[size++] = LimitTerm{part, count, fact};
    }
    Decibel total() const
    {
        Decibel sum{0};
        for (std::size_t i = 0; i < size; ++i) sum += all[i].loss();
        return sum;
    }
};

constexpr int most_parts = 1000;
constexpr double longest = 200'000;

Error no_coefficient(LimitQuestion const& question)
{
    std::vector<std::string> wavelengths;
    std::vector<std::string> categories;
    for (auto const& row : question.rules->coefficients) {
        if (row.category == question.category->id)
            wavelengths.push_back(fmt::format("{}", row.wavelength_nm));
        if (categories.empty() || categories.back() != row.category) categories.push_back(row.category);
    }
    if (wavelengths.empty()) {
        return Error{Errc::not_found,
                     fmt::format("Rule set {} has no attenuation coefficient for {}. It has {}.",
                                 question.rules->id, question.category->id, joined(categories, ", "))};
    }
    return Error{Errc::not_found,
                 fmt::format("Rule set {} has no attenuation coefficient for {} at {} nm. It has {} nm.",
                             question.rules->id, question.category->id, question.wavelength.value(),
                             joined(wavelengths, ", "))};
}

Error no_grade(LimitQuestion const& question, std::string_view table)
{
    std::vector<std::string> has;
    for (auto const& [key, fact] : question.rules->end_connection) {
        if (key.second == question.category->kind) has.push_back(fmt::format("{}-grade", name_of(key.first)));
    }
    std::string const way_out = has.empty()
                                    ? "Take another rule set."
                                    : fmt::format("It has {} cords for this fibre.", joined(has, " and "));
    return Error{Errc::not_found,
                 fmt::format("Rule set {} has no [[{}]] value for {}-grade test cords on {} fibre. {}",
                             question.rules->id, table, name_of(question.cords),
                             name_of(question.category->kind), way_out)};
}

Result<Terms> terms_of(LimitQuestion const& question)
{
    if (!question.rules || !question.category) {
        return Error{Errc::internal, "A limit was asked for without a rule set or a fibre category."};
    }
    auto const& rules = *question.rules;
    double const metres = question.length.value();
    if (!(metres >= 0 && metres <= longest)) {
        return Error{Errc::usage, fmt::format("A length of {} m lies outside 0 to 200000 m.",
                                              std::isfinite(metres) ? number_text(metres) : "no")};
    }
    if (question.ends < 0 || question.ends > 2) {
        return Error{Errc::usage, fmt::format("{} end connections: a link has 0, 1 or 2.", question.ends)};
    }
    if (question.inner < 0 || question.inner > most_parts || question.splices < 0 ||
        question.splices > most_parts) {
        return Error{Errc::usage, fmt::format("{} inner connections and {} splices: each lies in 0 to {}.",
                                              question.inner, question.splices, most_parts)};
    }
    facts::Fact const* const coefficient = rules.coefficient(question.category->id, question.wavelength);
    if (!coefficient) return no_coefficient(question);
    auto const key = std::pair{question.cords, question.category->kind};
    auto const end = rules.end_connection.find(key);
    if (end == rules.end_connection.end()) return no_grade(question, "end-connection");
    int const joints = setup::joints_in_reference(question.method);

    Terms terms;
    terms.add(LimitPart::cable, question.length.kilometres(), coefficient);
    terms.add(LimitPart::ends, question.ends, &end->second);
    if (rules.simple_count) {
        terms.add(LimitPart::reference, -joints, &end->second);
    } else if (joints > 0) {
        auto const joint = rules.reference_joint.find(key);
        if (joint == rules.reference_joint.end()) return no_grade(question, "reference-joint");
        terms.add(LimitPart::reference, -joints, &joint->second);
    }
    terms.add(LimitPart::inner, question.inner, &rules.inner_connection);
    terms.add(LimitPart::splices, question.splices, &rules.splice);
    return terms;
}

Result<Decibel> checked_total(LimitQuestion const& question, Terms const& terms)
{
    Decibel const total = terms.total();
    // A hair below nothing is the rounding of equal terms that cancel.
    if (total.value() < -1e-9) {
        return Error{
            Errc::refused,
            fmt::format("The limit comes out at {} dB: the {} reference takes out more than {} end "
                        "connections and the link bring in. Check the method and the number of ends.",
                        fixed_text(total.value(), 2), name_of(question.method), question.ends)};
    }
    return total;
}

std::string words_for(LimitPart part, LimitQuestion const& question)
{
    switch (part) {
    case LimitPart::cable:
        return fmt::format("Cable, {} at {} nm", question.category->id, question.wavelength.value());
    case LimitPart::ends:
        return fmt::format("End connections, {}-grade test cords", name_of(question.cords));
    case LimitPart::reference:
        return fmt::format("Joints inside the {} reference, taken out", name_of(question.method));
    case LimitPart::inner:
        return "Connections inside the link";
    case LimitPart::splices:
        return "Splices";
    }
    return "";
}

} // namespace

Result<Limit> limit(LimitQuestion const& question)
{
    TRY_ASSIGN(Terms const terms, terms_of(question));
    Limit limit;
    TRY_ASSIGN(limit.total, checked_total(question, terms));
    for (std::size_t i = 0; i < terms.size; ++i) {
        LimitTerm const& term = terms.all[i];
        facts::Fact const& fact = *term.fact;
        limit.lines.push_back(LimitLine{words_for(term.part, question), term.count, fact.unit, fact.value,
                                        term.loss(), fact.id, fact.source, fact.basis, fact.note});
        limit.rests_on_memory |= term.count != 0 && fact.basis == facts::Basis::memory;
    }
    return limit;
}

Result<Decibel> limit_value(LimitQuestion const& question)
{
    TRY_ASSIGN(Terms const terms, terms_of(question));
    return checked_total(question, terms);
}

} // namespace guidepin::loss
