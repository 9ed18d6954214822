// SPDX-License-Identifier: Apache-2.0
// The faults, one function each. The only place that knows them.
#include "loss/geometry.hpp"
#include "plant/presets.hpp"
#include "simulate/inside.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace guidepin::simulate {

namespace {

double between(Random& random, double low, double high)
{
    return low + (high - low) * random.uniform();
}
/// Even on a logarithmic scale.
double spread_between(Random& random, double low, double high)
{
    return low * std::pow(high / low, random.uniform());
}

class Spoiling
{
  public:
    Spoiling(World& world, Random& random)
        : world_(world)
        , random_(random)
        , taken_(world.site.links.size(), false)
        , session_taken_(world.site.references.size(), false)
    {
    }

    Outcome add(Wish const& wish)
    {
        strength_ = wish.strength_db;
        fault_ = wish.fault;
        switch (wish.fault) {
        case Fault::reference_fault:
        case Fault::reference_drift:
        case Fault::test_cord_position:
        case Fault::wrong_test_cord:
            return session_fault();
        case Fault::wrong_adapter:
            return wrong_adapter();
        case Fault::mislabelled_link:
            return mislabelled();
        case Fault::copied_measurement:
            return copied();
        default:
            return link_fault();
        }
    }

  private:
    using Fits = bool (*)(World const&, std::uint32_t);

    Error nowhere() const
    {
        return Error{Errc::invalid_input,
                     fmt::format("There is no room for one more {}: more links are needed", id_of(fault_))};
    }

    Result<std::uint32_t> free_link(Fits fits)
    {
        std::size_t const n = world_.site.links.size();
        std::size_t const start = random_.whole(n);
        for (std::size_t i = 0; i < n; ++i) {
            auto const link = static_cast<std::uint32_t>((start + i) % n);
            if (taken_[link] || !fits(world_, link)) continue;
            taken_[link] = true;
            return link;
        }
        return nowhere();
    }

    double strength(double low, double high)
    {
        double const drawn = spread_between(random_, low, high);
        return strength_.value_or(drawn);
    }
    Kind const& kind_of(std::uint32_t link) const { return world_.kinds[world_.kind[link]]; }
    static bool any(World const&, std::uint32_t) { return true; }
    static bool single_mode(World const& world, std::uint32_t link)
    {
        return world.kinds[world.kind[link]].fibre == facts::FibreKind::single_mode;
    }
    static bool multimode(World const& world, std::uint32_t link) { return !single_mode(world, link); }
    static bool one_row(World const& world, std::uint32_t link)
    {
        return world.site.links[link].family.rows == 1;
    }
    static bool full_row(World const& world, std::uint32_t link)
    {
        return one_row(world, link) && static_cast<int>(world.site.links[link].fibres.count()) ==
                                           world.site.links[link].family.positions();
    }
    static bool twelve(World const& world, std::uint32_t link)
    {
        return one_row(world, link) && world.site.links[link].family.columns == 12;
    }
    static bool two_rows(World const& world, std::uint32_t link)
    {
        return world.site.links[link].family.rows == 2;
    }

    void record(std::vector<std::uint32_t> links, std::vector<int> positions, double size, std::string detail)
    {
        Truth truth;
        truth.fault = fault_;
        truth.links = std::move(links);
        truth.positions = std::move(positions);
        truth.size_db = size;
        truth.detail = std::move(detail);
        if (!truth.links.empty()) truth.first = truth.links.front();
        world_.site.truths.push_back(std::move(truth));
    }

    void add_loss(std::uint32_t link, int position, std::array<double, 2> const& loss)
    {
        Body::Fibre& fibre = world_.bodies[link].fibres[static_cast<std::size_t>(position - 1)];
        for (std::size_t w = 0; w < 2; ++w) fibre.joints_db[w] += loss[w];
    }

    Outcome link_fault()
    {
        Fits fits = &any;
        if (fault_ == Fault::macrobend || fault_ == Fault::face_mismatch) fits = &single_mode;
        if (fault_ == Fault::core_size_mismatch) fits = &multimode;
        if (fault_ == Fault::misaligned_ferrule || fault_ == Fault::wrong_trunk_type) fits = &one_row;
        if (fault_ == Fault::shifted_row) fits = &full_row;
        if (fault_ == Fault::swapped_blocks) fits = &twelve;
        if (fault_ == Fault::swapped_rows) fits = &two_rows;
        TRY_ASSIGN(auto const link, free_link(fits));
        Body& body = world_.bodies[link];
        std::vector<int> const lit = plant::positions_of(body.map.near_positions());
        switch (fault_) {
        case Fault::dirty_end_face:
            dirty(link, lit);
            break;
        case Fault::macrobend:
            bend(link, lit);
            break;
        case Fault::misaligned_ferrule:
            misaligned(link, lit);
            break;
        case Fault::unpinned_joint: {
            double const s = strength(1, 5);
            for (int const p : lit)
                add_loss(link, p, at_both(kind_of(link), s * random_.gamma(4) / 4, random_));
            record({link}, {}, s, "pins missing in one joint");
            break;
        }
        case Fault::face_mismatch: {
            double const s = strength(4, 9);
            // Air under the wedge: diffraction and the deviated beam, less at the longer wavelength.
            for (int const p : lit) {
                double const here = s * (1 + 0.06 * random_.normal());
                add_loss(link, p, {here, 0.9 * here});
            }
            record({link}, {}, s, "a flat plug against an angled one");
            break;
        }
        case Fault::broken_fibre: {
            std::vector<int> gone{lit[random_.whole(lit.size())]};
            if (random_.uniform() < 0.2) gone.push_back(lit[random_.whole(lit.size())]);
            std::sort(gone.begin(), gone.end());
            gone.erase(std::unique(gone.begin(), gone.end()), gone.end());
            for (int const p : gone) body.fibres[static_cast<std::size_t>(p - 1)].broken = true;
            record({link}, gone, 0, "no light");
            break;
        }
        case Fault::extra_connection: {
            double const s = strength(0.3, 0.6);
            double const shape = kind_of(link).shape;
            for (int const p : lit)
                add_loss(link, p, at_both(kind_of(link), s * random_.gamma(shape) / shape, random_));
            record({link}, {}, s, "one more joint than drawn");
            break;
        }
        case Fault::core_size_mismatch: {
            // The far half has the larger core, and so has the cord at its end: one direction only loses.
            double const s = strength(1.2, 4);
            bool const from_a = !world_.design.both_directions || random_.uniform() < 0.5;
            for (int const p : lit) {
                Body::Fibre& fibre = body.fibres[static_cast<std::size_t>(p - 1)];
                auto& more = from_a ? fibre.only_a_db : fibre.only_b_db;
                double const here = s * (1 + 0.05 * random_.normal());
                more = {here, here * 0.98};
            }
            record({link}, {}, s, from_a ? "launched from A only" : "launched from B only");
            break;
        }
        default:
            wiring(link, lit);
            break;
        }
        return {};
    }

    void dirty(std::uint32_t link, std::vector<int> const& lit)
    {
        double const s = strength(0.3, 3);
        std::vector<int> where{lit[random_.whole(lit.size())]};
        if (random_.uniform() < 0.3 && where.front() < world_.site.links[link].family.positions() &&
            std::find(lit.begin(), lit.end(), where.front() + 1) != lit.end())
            where.push_back(where.front() + 1);
        bool const multimode = kind_of(link).fibre == facts::FibreKind::multimode;
        bool const at_b = random_.uniform() < 0.5;
        for (std::size_t i = 0; i < where.size(); ++i) {
            double const here = i == 0 ? s : s * between(random_, 0.5, 1);
            // A particle at the core weighs less at the longer wavelength, one at the edge of the mode more.
            double const ratio = multimode ? between(random_, 0.85, 1.1) : between(random_, 0.65, 1.15);
            if (multimode && world_.design.both_directions) {
                // Met last, the light fills fewer modes and loses less.
                Body::Fibre& fibre = world_.bodies[link].fibres[static_cast<std::size_t>(where[i] - 1)];
                (at_b ? fibre.only_b_db : fibre.only_a_db) = {here, here * ratio};
                (at_b ? fibre.only_a_db : fibre.only_b_db) = {0.8 * here, 0.8 * here * ratio};
            } else {
                add_loss(link, where[i], {here, here * ratio});
            }
        }
        record({link}, where, s, at_b ? "at end B" : "at end A");
    }

    void bend(std::uint32_t link, std::vector<int> const& lit)
    {
        double const s = strength(0.3, 2.5);
        double const radius = between(random_, 8, 12);
        loss::StepFibre const fibre;
        double const at_1550 = loss::macrobend_db_per_metre(fibre, radius, 1.55);
        double const ratio = loss::macrobend_db_per_metre(fibre, radius, 1.31) / at_1550;
        for (int const p : lit) {
            double const here = s * between(random_, 0.8, 1.2);
            add_loss(link, p, {here * ratio, here});
        }
        record({link}, {}, s, fmt::format("radius {:.1f} mm", radius));
    }

    void misaligned(std::uint32_t link, std::vector<int> const& lit)
    {
        // Rotated about a place somewhere along the row: ends lose most, or one end.
        double const s = strength(0.4, 3);
        Kind const& kind = kind_of(link);
        int const columns = world_.site.links[link].family.columns;
        double const half = loss::position_mm(columns, columns);
        double const pivot = random_.uniform() < 0.7
                                 ? (random_.uniform() < 0.5 ? -1.0 : 1.0) * between(random_, 0.7, 1.1) * half
                                 : between(random_, -0.3, 0.3) * half;
        double worst = 0;
        std::vector<double> shape;
        for (int const p : lit) {
            double const arm = loss::position_mm(p, columns) - pivot;
            // Offset grows with the arm; multimode loss nearly with its 1.4th power (encircled flux launch).
            shape.push_back(kind.fibre == facts::FibreKind::multimode ? std::pow(std::abs(arm), 1.4)
                                                                      : arm * arm);
            worst = std::max(worst, shape.back());
        }
        for (std::size_t i = 0; i < lit.size(); ++i)
            add_loss(link, lit[i], at_both(kind, s * shape[i] / worst, random_));
        record({link}, {}, s, fmt::format("rotated about {:.2f} mm", pivot));
    }

    void wiring(std::uint32_t link, std::vector<int> const& lit)
    {
        Body& body = world_.bodies[link];
        plant::Family const family = world_.site.links[link].family;
        int const n = family.positions();
        auto const remap = [&](auto const& far_of) {
            plant::PositionMap map;
            for (int const p : lit) {
                int const far = far_of(body.map.at(p));
                if (far >= 1 && far <= n) map.connect(p, far);
            }
            body.map = map;
        };
        auto const pair = [](int p) { return p % 2 == 1 ? p + 1 : p - 1; };
        if (fault_ == Fault::wrong_trunk_type) {
            double const which = random_.uniform();
            if (which < 0.6) {
                remap([&](int far) { return n + 1 - far; });
                record({link}, {}, 0, "mirrored: type A for B or B for A");
            } else {
                remap(pair);
                record({link}, {}, 0, "pairs exchanged: type C");
            }
        } else if (fault_ == Fault::crossed_fibres) {
            std::size_t const first = random_.whole(lit.size() - 1);
            std::size_t second = first + 1;
            if (random_.uniform() < 0.3) second = random_.whole(lit.size());
            if (second == first) second = first + 1;
            int const a = body.map.at(lit[first]);
            int const b = body.map.at(lit[second]);
            remap([&](int far) { return far == a ? b : far == b ? a : far; });
            record({link}, {std::min(lit[first], lit[second]), std::max(lit[first], lit[second])}, 0,
                   "two fibres exchanged");
        } else if (fault_ == Fault::shifted_row) {
            int const by = random_.uniform() < 0.5 ? 1 : -1;
            remap([&](int far) { return far + by; });
            record({link}, {}, 0, fmt::format("off by {}", by));
        } else if (fault_ == Fault::swapped_blocks) {
            remap([&](int far) { return far <= 4 ? far + 8 : far >= 9 ? far - 8 : far; });
            record({link}, {}, 0, "1-4 and 9-12 exchanged");
        } else if (fault_ == Fault::swapped_rows) {
            remap([&](int far) { return far <= n / 2 ? far + n / 2 : far - n / 2; });
            record({link}, {}, 0, "rows exchanged");
        } else {
            bool const longer = random_.uniform() < 0.6;
            double const factor = longer ? between(random_, 1.15, 1.6) : between(random_, 0.5, 0.85);
            double const more = body.length_m * (factor - 1);
            Kind const& kind = kind_of(link);
            body.length_m += more;
            for (int const p : lit)
                add_loss(link, p, {kind.db_per_km[0] * more / 1000, kind.db_per_km[1] * more / 1000});
            record({link}, {}, 0, fmt::format("{:.0f} % of the drawing", factor * 100));
        }
    }

    Outcome session_fault()
    {
        std::size_t const n = session_taken_.size();
        std::size_t const start = random_.whole(n);
        for (std::size_t i = 0; i < n; ++i) {
            std::size_t const session = (start + i) % n;
            Reference const& reference = world_.site.references[session];
            if (session_taken_[session] || reference.links.size() < 8) continue;
            bool const one_row_plug = world_.site.links[reference.links.front()].family.rows == 1;
            if (fault_ == Fault::wrong_test_cord && !one_row_plug) continue;
            session_taken_[session] = true;
            spoil_session(session);
            return {};
        }
        return nowhere();
    }

    void spoil_session(std::size_t session)
    {
        Reference const& reference = world_.site.references[session];
        SessionFault& fault = world_.sessions[session];
        std::size_t const n = reference.links.size();
        std::size_t from = 0;
        std::vector<int> positions;
        double size = 0;
        std::string detail;
        int const columns = world_.site.links[reference.links.front()].family.positions();
        if (fault_ == Fault::reference_fault) {
            fault.bias_db = size = strength(0.2, 0.6);
            size = -size;
            detail = "taken through a loss that was not there later";
            if (random_.uniform() < 0.3) {
                fault.bias_position = 1 + static_cast<int>(random_.whole(4));
                positions = {fault.bias_position};
            }
        } else if (fault_ == Fault::reference_drift) {
            fault.drift_db = size = strength(0.15, 0.5);
            fault.ramp = random_.uniform() < 0.5;
            from = n / 4 + random_.whole(n / 3 + 1);
            fault.drift_from = from;
            detail = fault.ramp ? "rises link by link" : "at once";
        } else if (fault_ == Fault::test_cord_position) {
            fault.cord_db = size = strength(0.3, 1.5);
            fault.cord_position = random_.uniform() < 0.5 ? 1 + static_cast<int>(random_.whole(4))
                                                          : columns - static_cast<int>(random_.whole(4));
            fault.tail = random_.uniform() < 0.5;
            from = random_.whole(n / 2 + 1);
            fault.cord_from = from;
            positions = {fault.cord_position};
            detail = fault.tail ? "tail cord" : "launch cord";
        } else {
            fault.mirrored = true;
            detail = "one cord of the other type";
        }
        record({reference.links.begin() + static_cast<std::ptrdiff_t>(from), reference.links.end()},
               positions, size, detail);
        world_.site.truths.back().reference = static_cast<int>(session);
    }

    Outcome wrong_adapter()
    {
        // A whole panel of the other kind: six links that share it.
        std::size_t const panels = world_.site.links.size() / 6;
        if (panels == 0) return nowhere();
        std::size_t const start = random_.whole(panels);
        for (std::size_t i = 0; i < panels; ++i) {
            std::size_t const first = (start + i) % panels * 6;
            bool usable = true;
            for (std::size_t k = first; k < first + 6; ++k) {
                auto const link = static_cast<std::uint32_t>(k);
                usable = usable && !taken_[link] && one_row(world_, link) &&
                         !world_.sessions[world_.reference[link]].mirrored;
            }
            if (!usable) continue;
            std::vector<std::uint32_t> links;
            for (std::size_t k = first; k < first + 6; ++k) {
                auto const link = static_cast<std::uint32_t>(k);
                taken_[link] = true;
                links.push_back(link);
                Body& body = world_.bodies[link];
                int const n = world_.site.links[link].family.positions();
                plant::PositionMap map;
                for (int const p : plant::positions_of(body.map.near_positions()))
                    map.connect(p, n + 1 - body.map.at(p));
                body.map = map;
            }
            record(links, {}, 0, "a panel of the other kind of adapter");
            return {};
        }
        return nowhere();
    }

    Outcome mislabelled()
    {
        std::size_t const n = world_.site.links.size();
        std::size_t const start = random_.whole(n);
        for (std::size_t i = 0; i < n; ++i) {
            auto const a = static_cast<std::uint32_t>((start + i) % n);
            for (std::uint32_t b = a + 1; b < std::min<std::size_t>(a + 12, n); ++b) {
                double const one = world_.site.links[a].length.value();
                double const other = world_.site.links[b].length.value();
                if (taken_[a] || taken_[b] || world_.kind[a] != world_.kind[b]) continue;
                if (std::abs(one - other) < std::max(6.0, 0.2 * std::max(one, other))) continue;
                taken_[a] = taken_[b] = true;
                std::swap(world_.bodies[a], world_.bodies[b]);
                record({a, b}, {}, 0, "labels exchanged");
                return {};
            }
        }
        return nowhere();
    }

    Outcome copied()
    {
        TRY_ASSIGN(auto const to, free_link(&any));
        Reference const& session = world_.site.references[world_.reference[to]];
        std::size_t const start = random_.whole(session.links.size());
        for (std::size_t i = 0; i < session.links.size(); ++i) {
            std::uint32_t const from = session.links[(start + i) % session.links.size()];
            if (taken_[from] || from == to || world_.kind[from] != world_.kind[to]) continue;
            taken_[from] = true;
            bool const exact = world_.copies.size() % 2 == 0;
            world_.copies.emplace_back(to, from);
            world_.exact_copy.push_back(exact);
            record({to, from}, {}, 0, exact ? "to the letter" : "with noise");
            return {};
        }
        return nowhere();
    }

    World& world_;
    Random& random_;
    std::vector<bool> taken_, session_taken_;
    std::optional<double> strength_;
    Fault fault_ = Fault::dirty_end_face;
};

} // namespace

Outcome spoil(World& world, Random& random)
{
    Spoiling spoiling{world, random};
    for (Wish const& wish : world.design.faults) {
        for (int i = 0; i < wish.count; ++i) TRY(spoiling.add(wish));
    }
    return {};
}

} // namespace guidepin::simulate
