// SPDX-License-Identifier: Apache-2.0
#include "simulate/site.hpp"

#include "loss/distribution.hpp"
#include "loss/geometry.hpp"
#include "loss/prediction.hpp"
#include "plant/link_model.hpp"
#include "simulate/inside.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

namespace guidepin::simulate {

namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double dark_db = 55; // what a meter without light shows against its reference
constexpr std::int64_t first_morning_ms = 1'772'434'800'000; // 2026-03-02T07:00Z
constexpr std::size_t days_after = 180;

double rounded(double value, double step)
{
    // Divided by a whole number it is the number with the fewest digits; times 0.01 it is not.
    return std::round(value / step) / std::round(1 / step);
}

std::vector<Kind> kinds_of_site()
{
    using facts::FibreKind;
    using plant::Face;
    std::vector<Kind> kinds;
    auto const add = [&](FibreKind fibre, char const* family, char const* fibres, char const* type, int inner,
                         std::size_t group, double share) {
        Kind kind;
        kind.fibre = fibre;
        bool const multimode = fibre == FibreKind::multimode;
        kind.category = multimode ? "OM4" : "OS2";
        kind.family = family;
        kind.fibres = fibres;
        kind.trunk_type = type;
        kind.face = multimode ? Face::flat : Face::angled;
        kind.inner = inner;
        // Typical attenuation of fibre, below what its category allows (ITU-T G.652 and IEC 60793-2-10; basis
        // memory).
        kind.wavelength_nm =
            multimode ? std::array<std::uint16_t, 2>{850, 1300} : std::array<std::uint16_t, 2>{1310, 1550};
        kind.db_per_km = multimode ? std::array{2.4, 0.6} : std::array{0.33, 0.20};
        kind.shortest_m = multimode ? 20 : 40;
        kind.longest_m = multimode ? 110 : 420;
        kind.group = group;
        kind.share = share;
        kinds.push_back(kind);
    };
    add(FibreKind::multimode, "mpo-12", "12", "B", 0, 0, 0.28);
    add(FibreKind::multimode, "mpo-12", "12", "A", 0, 0, 0.17);
    add(FibreKind::multimode, "mpo-12", "12", "C", 0, 0, 0.05);
    add(FibreKind::single_mode, "mpo-12", "8-outer", "B", 0, 1, 0.15);
    add(FibreKind::single_mode, "mpo-12", "12", "A", 0, 1, 0.12);
    add(FibreKind::single_mode, "mpo-12", "12", "B", 1, 1, 0.08);
    add(FibreKind::multimode, "mpo-24", "24", "I-A", 0, 2, 0.08);
    add(FibreKind::single_mode, "mpo-16", "16", "B", 0, 3, 0.07);
    return kinds;
}

Outcome finish_kinds(World& world, facts::Tables const& tables, Random& random)
{
    for (Kind& kind : world.kinds) {
        bool const multimode = kind.fibre == facts::FibreKind::multimode;
        facts::ConnectionGrade const* const grade = tables.grade(multimode ? "Bm" : "B");
        if (!grade) return Error{Errc::not_found, "The tables have no grade B of connections"};
        TRY_ASSIGN(auto const gamma, loss::gamma_of(*grade));
        double const quality = world.design.quality_low +
                               (world.design.quality_high - world.design.quality_low) * random.uniform();
        kind.shape = gamma.shape;
        // Grade B multimode allows more than twice the single-mode figure; sites beat it by more, too.
        kind.scale = gamma.scale * quality * (multimode ? 0.6 : 1.0);
        plant::LinkSpec spec;
        spec.id = kind.trunk_type;
        spec.category = kind.category;
        TRY_ASSIGN(spec.family, plant::parse_family(kind.family));
        TRY_ASSIGN(spec.fibres, plant::parse_occupancy(kind.fibres, spec.family));
        spec.trunk_type = kind.trunk_type;
        spec.face = kind.face;
        TRY_ASSIGN(auto const model, plant::build_link(spec));
        kind.map = model.positions.value_or(plant::PositionMap{});
    }
    return {};
}

void lay(World& world, std::uint32_t link, Random& random)
{
    Kind const& kind = world.kinds[world.kind[link]];
    Body& body = world.bodies[link];
    body.kind = world.kind[link];
    body.map = kind.map;
    body.length_m = world.site.links[link].length.value() * (0.985 + 0.03 * random.uniform());
    body.fibres.resize(static_cast<std::size_t>(world.site.links[link].family.positions()));
    for (int const p : plant::positions_of(kind.map.near_positions())) {
        Body::Fibre& fibre = body.fibres[static_cast<std::size_t>(p - 1)];
        for (int joint = 0; joint < 2 + kind.inner; ++joint) {
            auto const both = at_both(kind, kind.scale * random.gamma(kind.shape), random);
            for (std::size_t w = 0; w < 2; ++w) fibre.joints_db[w] += both[w];
        }
        double const spread = 1 + 0.02 * random.normal();
        for (std::size_t w = 0; w < 2; ++w)
            fibre.joints_db[w] += kind.db_per_km[w] * body.length_m / 1000 * spread;
    }
}

Outcome schedule(World& world, Random& random)
{
    std::size_t const wanted = world.design.links;
    double share = 0;
    std::size_t next = 0;
    for (std::size_t k = 0; k < world.kinds.size() && next < wanted; ++k) {
        Kind const& kind = world.kinds[k];
        share += kind.share;
        auto const until =
            k + 1 == world.kinds.size()
                ? wanted
                : std::min(wanted,
                           static_cast<std::size_t>(std::ceil(share * static_cast<double>(wanted) - 1e-9)));
        for (; next < until; ++next) {
            plant::LinkSpec link;
            link.id = fmt::format("L-{:05}", next + 1);
            link.zone = fmt::format("Hall {}", kind.group + 1);
            TRY_ASSIGN(link.family, plant::parse_family(kind.family));
            TRY_ASSIGN(link.fibres, plant::parse_occupancy(kind.fibres, link.family));
            // Six links share a panel at each end.
            link.a.name = fmt::format("A{:04}/{}", next / 6 + 1, next % 6 + 1);
            link.b.name = fmt::format("B{:04}/{}", next / 6 + 1, next % 6 + 1);
            link.category = kind.category;
            link.length =
                Metres{std::floor(kind.shortest_m + (kind.longest_m - kind.shortest_m) * random.uniform())};
            link.trunk_type = kind.trunk_type;
            link.face = kind.face;
            link.inner_connections = kind.inner;
            world.site.links.push_back(link);
            world.kind.push_back(k);
        }
    }
    world.bodies.resize(wanted);
    for (std::uint32_t link = 0; link < wanted; ++link) lay(world, link, random);
    return {};
}

/// Sessions: links of one group, in an order that mixes the kinds, so many to a reference.
void plan_sessions(World& world, Random& random)
{
    world.reference.resize(world.site.links.size());
    std::size_t const groups = 4;
    for (std::size_t group = 0; group < groups; ++group) {
        std::vector<std::uint32_t> links;
        for (std::uint32_t link = 0; link < world.site.links.size(); ++link) {
            if (world.kinds[world.kind[link]].group == group) links.push_back(link);
        }
        if (links.empty()) continue;
        // Panels of six stay together; panels are visited in any order.
        std::vector<std::size_t> panels;
        for (std::size_t i = 0; i < links.size(); i += 6) panels.push_back(i);
        for (std::size_t i = panels.size(); i > 1; --i) std::swap(panels[i - 1], panels[random.whole(i)]);
        std::vector<std::uint32_t> order;
        for (std::size_t const panel : panels) {
            for (std::size_t i = panel; i < std::min(panel + 6, links.size()); ++i) order.push_back(links[i]);
        }
        std::size_t const per = world.design.links_per_reference;
        std::size_t const sessions = std::max<std::size_t>(1, (order.size() + per / 2) / per);
        for (std::size_t s = 0; s < sessions; ++s) {
            Reference reference;
            reference.id = fmt::format("R-{}", world.site.references.size() + 1);
            Kind const& kind = world.kinds[world.kind[order.front()]];
            reference.family = kind.family;
            reference.kind = kind.fibre;
            for (std::size_t i = order.size() * s / sessions; i < order.size() * (s + 1) / sessions; ++i) {
                reference.links.push_back(order[i]);
                world.reference[order[i]] = static_cast<std::uint32_t>(world.site.references.size());
            }
            world.site.references.push_back(std::move(reference));
        }
    }
    world.sessions.resize(world.site.references.size());
}

class Measuring
{
  public:
    Measuring(World& world, Random& random)
        : world_(world)
        , random_(random)
    {
    }

    void run(std::size_t reference)
    {
        Reference& session = world_.site.references[reference];
        Kind const& kind = world_.kinds[world_.kind[session.links.front()]];
        fault_ = &world_.sessions[reference];
        reference_ = static_cast<std::uint32_t>(reference);
        std::size_t const positions =
            world_.site.links[session.links.front()].family.columns *
            static_cast<std::size_t>(world_.site.links[session.links.front()].family.rows);
        // Half a year at most lies after the first morning, whatever is more before it: no job takes readings
        // of days to come.
        auto const before = static_cast<std::int64_t>(world_.site.references.size() -
                                                      std::min(world_.site.references.size(), days_after));
        now_ = first_morning_ms + (static_cast<std::int64_t>(reference) - before) * 24 * hour_ms;
        Design const& design = world_.design;
        for (std::size_t w = 0; w < 2; ++w) {
            all_[w] = design.reference_u * random_.normal();
            position_[w].assign(positions + 1, 0);
            double const level = kind.fibre == facts::FibreKind::multimode ? -20.5 : -5.5;
            for (std::size_t p = 1; p <= positions; ++p) {
                position_[w][p] = design.position_u * random_.normal();
                session.powers.push_back(
                    {static_cast<std::int16_t>(p), kind.wavelength_nm[w],
                     rounded(level - 0.4 * static_cast<double>(w) + 0.1 * random_.normal(), 0.01), now_});
            }
            now_ += 20'000;
        }
        now_ += 120'000;
        for (std::size_t w = 0; w < 2; ++w) {
            for (std::size_t p = 1; p <= positions; ++p) {
                Reading reading;
                reading.reference = reference_;
                reading.position = reading.far_position = static_cast<std::int16_t>(p);
                reading.wavelength_nm = kind.wavelength_nm[w];
                // Reference-grade cords: selected joints, well below a random mating.
                reading.attenuation_db =
                    rounded(0.06 + 0.015 * random_.gamma(2) + design.own_u * random_.normal() * 0.5, 0.01);
                reading.length_m = nan;
                reading.taken_ms = now_;
                session.check.push_back(reading);
            }
        }
        now_ += 180'000;
        for (std::size_t i = 0; i < session.links.size(); ++i) {
            index_ = i;
            count_ = session.links.size();
            measure(session.links[i], false);
            if (design.both_directions) measure(session.links[i], true);
            now_ += 240'000 + static_cast<std::int64_t>(120'000 * random_.uniform());
        }
    }

  private:
    double drift() const
    {
        if (fault_->drift_db == 0 || index_ < fault_->drift_from) return 0;
        if (!fault_->ramp) return fault_->drift_db;
        return fault_->drift_db * static_cast<double>(index_ + 1 - fault_->drift_from) /
               static_cast<double>(count_ - fault_->drift_from);
    }

    void measure(std::uint32_t link, bool from_b)
    {
        Body const& body = world_.bodies[link];
        Kind const& kind = world_.kinds[body.kind];
        Design const& design = world_.design;
        plant::PositionMap map = from_b ? body.map.inverse() : body.map;
        int const positions = world_.site.links[link].family.positions();
        double const together = design.link_u * random_.normal();
        double const metres = body.length_m * (1 + 0.003 * random_.normal()) + 0.1 * random_.normal();
        std::vector<double> mating(body.fibres.size());
        for (double& value : mating) value = design.remating_u * random_.normal();
        // What is really there may have other fibres than the schedule: the meter looks at all positions
        // promised.
        plant::Occupancy const looked = from_b ? world_.kinds[world_.kind[link]].map.far_positions()
                                               : world_.kinds[world_.kind[link]].map.near_positions();
        for (std::size_t w = 0; w < 2; ++w) {
            for (int const p : plant::positions_of(looked)) {
                int const far = map.at(p);
                int const at_a = from_b ? far : p;
                Reading reading;
                reading.link = link;
                reading.reference = reference_;
                reading.from_b = from_b;
                reading.position = static_cast<std::int16_t>(p);
                reading.wavelength_nm = kind.wavelength_nm[w];
                reading.taken_ms = now_;
                bool const lit = far > 0 && !body.fibres[static_cast<std::size_t>(at_a - 1)].broken;
                if (!lit) {
                    reading.far_position = 0;
                    reading.attenuation_db = dark_db;
                    reading.length_m = nan;
                    world_.site.readings.push_back(reading);
                    continue;
                }
                Body::Fibre const& fibre = body.fibres[static_cast<std::size_t>(at_a - 1)];
                int const shown = fault_->mirrored ? positions + 1 - far : far;
                reading.far_position = static_cast<std::int16_t>(shown);
                double loss = fibre.joints_db[w] + (from_b ? fibre.only_b_db[w] : fibre.only_a_db[w]);
                loss += together + mating[static_cast<std::size_t>(at_a - 1)] * (w == 0 ? 1.0 : 0.85);
                loss += all_[w] + position_[w][static_cast<std::size_t>(p)] + drift();
                if (fault_->bias_position == 0 || fault_->bias_position == p) loss -= fault_->bias_db;
                if (fault_->cord_position == (fault_->tail ? far : p) && index_ >= fault_->cord_from)
                    loss += fault_->cord_db * (w == 0 ? 1.0 : 0.85);
                loss += design.own_u * random_.normal();
                reading.attenuation_db = rounded(loss, 0.01);
                reading.length_m = rounded(metres + 0.05 * random_.normal(), 0.1);
                world_.site.readings.push_back(reading);
            }
            now_ += 3'000;
        }
    }

    World& world_;
    Random& random_;
    SessionFault const* fault_ = nullptr;
    std::uint32_t reference_ = 0;
    std::int64_t now_ = 0;
    std::size_t index_ = 0, count_ = 1;
    std::array<double, 2> all_{};
    std::array<std::vector<double>, 2> position_;
};

void copy_readings(World& world, Random& random)
{
    if (world.copies.empty()) return;
    std::vector<std::vector<std::size_t>> rows(world.site.links.size());
    for (std::size_t row = 0; row < world.site.readings.size(); ++row)
        rows[world.site.readings[row].link].push_back(row);
    for (std::size_t c = 0; c < world.copies.size(); ++c) {
        auto const [to, from] = world.copies[c];
        double const drawn_shift =
            world.site.links[to].length.value() - world.site.links[from].length.value();
        for (std::size_t i = 0; i < rows[to].size() && i < rows[from].size(); ++i) {
            Reading& target = world.site.readings[rows[to][i]];
            Reading const& source = world.site.readings[rows[from][i]];
            double const jitter =
                world.exact_copy[c] ? 0
                                    : rounded(world.design.copy_jitter_db * (2 * random.uniform() - 1), 0.01);
            target.attenuation_db = rounded(source.attenuation_db + jitter, 0.01);
            target.far_position = source.far_position;
            target.length_m = rounded(source.length_m + drawn_shift, 0.1);
        }
    }
}

} // namespace

std::array<double, 2> at_both(Kind const& kind, double first_db, Random& random)
{
    if (kind.fibre == facts::FibreKind::multimode) {
        // Nearly the same modes at both wavelengths.
        return {first_db, first_db * std::max(0.0, 0.94 + 0.04 * random.normal())};
    }
    // Mostly offset, some of it tilt: both from their geometry, w of G.652 fibre at 1310 and 1550 nm.
    double const tilt_share = 0.4 * random.uniform();
    double const w1 = 4.6;
    double const w2 = 5.2;
    double const offset = loss::offset_for_loss(Decibel{first_db * (1 - tilt_share)}, w1);
    double const tilt_at_first = loss::tilt_loss(0.01, w1, w1, 1.31, 1.4677).value();
    double const angle = 0.01 * std::sqrt(first_db * tilt_share / tilt_at_first);
    return {first_db,
            loss::offset_loss(offset, w2, w2).value() + loss::tilt_loss(angle, w2, w2, 1.55, 1.4682).value()};
}

Result<Site> simulate(Design const& design, facts::Tables const& tables)
{
    if (design.links < 1 || design.links > 1'000'000)
        return Error{Errc::invalid_input, fmt::format("A site has 1 to 1000000 links, not {}", design.links)};
    if (design.links_per_reference < 4)
        return Error{Errc::invalid_input,
                     fmt::format("A reference serves at least 4 links, not {}", design.links_per_reference)};
    World world;
    world.design = design;
    world.kinds = kinds_of_site();
    Random plan{design.seed * 4 + 1}; // each stage has its own stream: a fault more leaves the rest alone
    Random faults{design.seed * 4 + 2};
    Random measuring{design.seed * 4 + 3};
    TRY(finish_kinds(world, tables, plan));
    TRY(schedule(world, plan));
    plan_sessions(world, plan);
    TRY(spoil(world, faults));
    Measuring measure{world, measuring};
    for (std::size_t reference = 0; reference < world.site.references.size(); ++reference)
        measure.run(reference);
    copy_readings(world, faults);
    return std::move(world.site);
}

} // namespace guidepin::simulate
