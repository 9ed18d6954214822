// SPDX-License-Identifier: Apache-2.0
// Oracle: every arrangement of a small kit, tried one after another by a program of its own, with rules of
// mating written anew from the definitions (IEC 61754-7, TIA-604-5: pins, keys, faces; TIA-568.3: numbering
// and cable types). The solver must find a plan exactly when one exists, at exactly the least cost. Costs are
// whole numbers: no tolerance. Seeds are fixed and printed with a failing case.
#include "no_plan_text.hpp"
#include "plant/presets.hpp"
#include "setup/plan.hpp"

#include <gtest/gtest.h>

#include <functional>
#include <random>

namespace guidepin::setup {
namespace brute_force_test {

using plant::Pins;

// ---- rules of mating, independent of the plant room -------------------------------------------------

struct Plug
{
    int key = 0, rows = 1, columns = 12, angle = 0; // angle: 0 flat, +1 ordinary, -1 up-angled
    std::uint64_t filled = 0;                       // bit p-1 is position p
};

Plug plug_of_end(plant::ConnectorEnd const& end)
{
    Plug plug;
    plug.key = static_cast<int>(end.family.key);
    plug.rows = end.family.rows;
    plug.columns = end.family.columns;
    plug.angle = end.face == plant::Face::flat ? 0 : end.slope == plant::Slope::up ? -1 : 1;
    plug.filled = end.occupied.to_ullong();
    return plug;
}

using Light = std::uint64_t; // positions lit on a face

int lowest(Light light)
{
    int p = 1;
    while ((light & 1) == 0) {
        light >>= 1;
        ++p;
    }
    return p;
}

/// Light through a joint; nothing when the joint is not allowed or some light meets no fibre.
std::optional<Light> through(Plug const& a, Plug const& b, bool aligned, Light const& light,
                             bool touching = true)
{
    if (a.key != b.key || a.rows != b.rows) return std::nullopt;
    if (touching) {
        if ((a.angle == 0) != (b.angle == 0)) return std::nullopt;
        if (a.angle != 0 && (aligned ? a.angle != -b.angle : a.angle != b.angle)) return std::nullopt;
    }
    Light out = 0;
    int const n = a.columns;
    for (Light rest = light; rest != 0; rest &= rest - 1) {
        int const p = lowest(rest);
        int q = 0;
        if (a.rows == 1)
            q = aligned ? n + 1 - p : p;
        else if (aligned)
            q = p <= n ? n + 1 - p : 3 * n + 1 - p;
        else
            q = p <= n ? p + n : p - n;
        if (((b.filled >> (q - 1)) & 1) == 0) return std::nullopt;
        out |= Light{1} << (q - 1);
    }
    return out;
}

std::optional<Light> along(std::string const& type, Plug const& near, Plug const& far, Light const& light)
{
    int const total = near.rows * near.columns;
    Light out = 0;
    for (Light rest = light; rest != 0; rest &= rest - 1) {
        int const p = lowest(rest);
        int q = p;
        if (type == "B" || type == "I-B")
            q = total + 1 - p;
        else if (type == "C")
            q = p % 2 == 1 ? p + 1 : p - 1;
        if (((near.filled >> (p - 1)) & 1) == 0 || ((far.filled >> (q - 1)) & 1) == 0) return std::nullopt;
        out |= Light{1} << (q - 1);
    }
    return out;
}

bool pins_meet(Pins a, Pins b)
{
    return a == Pins::neutral || b == Pins::neutral || a != b;
}

// ---- the enumeration ---------------------------------------------------------------------------------

struct Held // a cord in a part, seen from the source
{
    int cord = 0;
    Plug near, far;
    Pins near_now{}, far_now{};
    bool near_free = false, far_free = false;
    std::string type;
    int grade = 0;
};

class Enumeration
{
  public:
    explicit Enumeration(Question const& question)
        : q_(question)
        , source_(plug_of_end(question.source.face))
        , meter_(plug_of_end(question.meter.face))
        , first_(plug_of_end(question.cabling.first.plug))
        , second_(plug_of_end(question.cabling.second.plug))
    {
        auto const family = question.cabling.first.plug.family.key;
        tool_ = false;
        for (PinTool const& tool : question.kit.pin_tools) tool_ = tool_ || tool.family == family;
        for (AdapterStock const& stock : question.kit.adapters) {
            if (stock.family == family)
                stock_[stock.keys == plant::KeyRelation::aligned ? 1 : 0] += stock.count;
        }
    }

    std::optional<Cost> least()
    {
        for (Arrangement const arrangement : q_.permitted) try_arrangement(arrangement);
        return best_;
    }

  private:
    void each_cord(Role role, std::vector<int> const& not_these,
                   std::function<void(Held const&)> const& visit) const
    {
        for (std::size_t c = 0; c < q_.kit.cords.size(); ++c) {
            Cord const& cord = q_.kit.cords[c];
            if (std::count(not_these.begin(), not_these.end(), static_cast<int>(c)) > 0 ||
                !cord.roles.may(role))
                continue;
            if (cord.glass.kind != q_.cabling.glass.kind) continue;
            for (int const turned : {0, 1}) visit(held(static_cast<int>(c), turned == 1));
        }
    }
    Held held(int c, bool turned) const
    {
        Cord const& cord = q_.kit.cords[static_cast<std::size_t>(c)];
        CordEnd const& near = cord.ends[turned ? 1 : 0];
        CordEnd const& far = cord.ends[turned ? 0 : 1];
        return {c,
                plug_of_end(near.plug),
                plug_of_end(far.plug),
                near.plug.pins,
                far.plug.pins,
                near.pins_exchangeable && tool_,
                far.pins_exchangeable && tool_,
                cord.type,
                cord.grade == facts::CordGrade::reference ? 1 : 0};
    }
    static std::vector<bool> keys_at(plant::EndFitting fitting)
    {
        if (fitting == plant::EndFitting::opposed_adapter) return {false};
        if (fitting == plant::EndFitting::aligned_adapter) return {true};
        return {false, true};
    }
    bool in_meter(Plug const& plug, Pins pins, Light const& light) const
    {
        bool const neutral = q_.meter.face.pins == Pins::neutral;
        return pins_meet(pins, q_.meter.face.pins) &&
               through(plug, meter_, q_.meter.keys == plant::KeyRelation::aligned, light, !neutral)
                   .has_value();
    }
    /// Pin changes along a series of states; nothing where a change is needed and not possible.
    static std::optional<int> changes(Pins now, bool free, std::initializer_list<Pins> states)
    {
        int count = 0;
        for (Pins const next : states) {
            if (next == now) continue;
            if (!free) return std::nullopt;
            ++count;
            now = next;
        }
        return count;
    }
    void offer(int pin_changes, int matings, int cords,
               std::vector<std::vector<bool>> const& adapters_by_phase)
    {
        int most[2] = {0, 0};
        for (auto const& phase : adapters_by_phase) {
            int count[2] = {0, 0};
            for (bool const aligned : phase) ++count[aligned ? 1 : 0];
            for (int const k : {0, 1}) most[k] = std::max(most[k], count[k]);
        }
        if (most[0] > stock_[0] || most[1] > stock_[1]) return;
        Cost const cost{pin_changes, matings, cords + most[0] + most[1] + (pin_changes > 0 ? 1 : 0)};
        if (!best_ || cost < *best_) best_ = cost;
    }
    static constexpr Pins both[2] = {Pins::pinned, Pins::unpinned};

    struct Ends // launch and tail cord with the cabling between them
    {
        Held l, t;
        Light at_launch = 0; // on the launch cord's far plug
        std::vector<bool> test_adapters;
    };

    void each_pair(std::function<void(Ends const&)> const& visit)
    {
        each_cord(Role::launch, {}, [&](Held const& l) {
            for (bool const k1 : keys_at(q_.cabling.first.fitting)) {
                auto const at_launch = through(first_, l.far, k1, first_.filled);
                if (!at_launch) continue;
                auto const back = along(l.type, l.far, l.near, *at_launch); // every type is its own inverse
                if (!back || !through(l.near, source_, q_.source.keys == plant::KeyRelation::aligned, *back))
                    continue;
                each_cord(Role::tail, {l.cord}, [&](Held const& t) {
                    for (bool const k2 : keys_at(q_.cabling.second.fitting)) {
                        auto const at_tail = through(second_, t.near, k2, second_.filled);
                        if (!at_tail) continue;
                        auto const far = along(t.type, t.near, t.far, *at_tail);
                        if (!far) continue;
                        for (Pins const tf : both) {
                            if (!in_meter(t.far, tf, *far)) continue;
                            Ends ends{l, t, *at_launch, {}};
                            if (q_.cabling.first.fitting == plant::EndFitting::bare_plug)
                                ends.test_adapters.push_back(k1);
                            if (q_.cabling.second.fitting == plant::EndFitting::bare_plug)
                                ends.test_adapters.push_back(k2);
                            visit(ends);
                            break; // pins in the meter are chosen again, with their cost, below
                        }
                    }
                });
            }
        });
    }

    /// Pin changes of the two ends that go into the ports, once.
    std::optional<int> port_changes(Ends const& e) const
    {
        std::optional<int> least;
        for (Pins const ln : both) {
            for (Pins const tf : both) {
                if (!pins_meet(ln, q_.source.face.pins) || !pins_meet(tf, q_.meter.face.pins)) continue;
                auto const a = changes(e.l.near_now, e.l.near_free, {ln});
                auto const b = changes(e.t.far_now, e.t.far_free, {tf});
                if (a && b && (!least || *a + *b < *least)) least = *a + *b;
            }
        }
        return least;
    }

    bool lit_through_tail(Ends const& e, Light const& light, Plug const& from, bool aligned) const
    {
        auto const near = through(from, e.t.near, aligned, light);
        if (!near) return false;
        auto const far = along(e.t.type, e.t.near, e.t.far, *near);
        return far && through(e.t.far, meter_, q_.meter.keys == plant::KeyRelation::aligned, *far,
                              q_.meter.face.pins != Pins::neutral);
    }

    /// Calls back with every possible check: pins of launch far, tail near, changes on the known cord,
    /// matings, cords, adapters.
    using CheckVisit = std::function<void(Pins, Pins, int, int, int, std::vector<bool> const&)>;
    void each_check(Ends const& e, std::optional<Held> const& changer, Pins changer_near, Pins changer_far,
                    CheckVisit const& visit)
    {
        for (bool const k : {false, true}) {
            if (!lit_through_tail(e, e.at_launch, e.l.far, k)) continue;
            for (Pins const lf : both)
                visit(lf, lf == Pins::pinned ? Pins::unpinned : Pins::pinned, 0, e.l.grade + e.t.grade, 0,
                      {k});
        }
        auto const with = [&](Held const& k, int cords) {
            for (bool const a : {false, true}) {
                for (bool const b : {false, true}) {
                    auto const in = through(e.l.far, k.near, a, e.at_launch);
                    if (!in) continue;
                    auto const out = along(k.type, k.near, k.far, *in);
                    if (!out || !lit_through_tail(e, *out, k.far, b)) continue;
                    for (Pins const kn : both) {
                        for (Pins const kf : both) {
                            auto const x = changes(k.near_now, k.near_free, {kn});
                            auto const y = changes(k.far_now, k.far_free, {kf});
                            if (!x || !y) continue;
                            for (Pins const lf : both)
                                for (Pins const tn : both)
                                    if (lf != kn && tn != kf)
                                        visit(lf, tn, *x + *y, e.l.grade + e.t.grade + 2 * k.grade, cords,
                                              {a, b});
                        }
                    }
                }
            }
        };
        std::vector<int> used{e.l.cord, e.t.cord};
        if (changer) used.push_back(changer->cord);
        each_cord(Role::known, used, [&](Held const& k) { with(k, 1); });
        if (changer && q_.kit.cords[static_cast<std::size_t>(changer->cord)].roles.may(Role::known)) {
            Held same = *changer;
            same.near_now = changer_near;
            same.far_now = changer_far;
            with(same, 0);
            std::swap(same.near, same.far);
            std::swap(same.near_now, same.far_now);
            std::swap(same.near_free, same.far_free);
            with(same, 0);
        }
    }

    void try_arrangement(Arrangement arrangement)
    {
        Pins const lt = q_.cabling.first.plug.pins == Pins::pinned ? Pins::unpinned : Pins::pinned;
        Pins const tt = q_.cabling.second.plug.pins == Pins::pinned ? Pins::unpinned : Pins::pinned;
        each_pair([&](Ends const& e) {
            auto const ports = port_changes(e);
            if (!ports) return;
            if (!changes(e.l.far_now, e.l.far_free, {lt}) || !changes(e.t.near_now, e.t.near_free, {tt}))
                return;
            int const test_matings = e.l.grade + e.t.grade;
            // From the pins of the reference on, through the check, to the end.
            auto const finish = [&](int so_far, Pins lf, std::optional<Pins> tn, int matings, int cords,
                                    std::vector<bool> const& reference_adapters,
                                    std::optional<Held> const& changer, Pins cn, Pins cf) {
                bool const tail_there = tn.has_value();
                auto const tail_states = [&](std::initializer_list<Pins> later) {
                    if (!tail_there) return changes(e.t.near_now, e.t.near_free, later);
                    return changes(*tn, e.t.near_free, later);
                };
                if (tail_there || !q_.cord_check) { // made again with the pins of the reference, or no check
                    int const again = q_.cord_check ? e.l.grade + (changer ? changer->grade : e.t.grade) : 0;
                    auto const a = changes(lf, e.l.far_free, {lt});
                    auto const b = tail_states({tt});
                    if (a && b) {
                        offer(so_far + *a + *b, matings + again + test_matings, cords,
                              {reference_adapters, e.test_adapters});
                    }
                    return;
                }
                each_check(e, changer, cn, cf,
                           [&](Pins lc, Pins tc, int known_changes, int check_matings, int more_cords,
                               std::vector<bool> const& check_adapters) {
                               auto const a = changes(lf, e.l.far_free, {lc, lt});
                               auto const b = tail_states({tc, tt});
                               if (!a || !b) return;
                               offer(so_far + known_changes + *a + *b, matings + check_matings + test_matings,
                                     cords + more_cords,
                                     {reference_adapters, check_adapters, e.test_adapters});
                           });
            };
            int const base = e.l.grade + e.t.grade; // source, and tail to meter
            auto const each_reference_pin = [&](auto visit) {
                for (Pins const lf : both) {
                    auto const a = changes(e.l.far_now, e.l.far_free, {lf});
                    if (a) visit(lf, *ports + *a);
                }
            };
            switch (arrangement) {
            case Arrangement::one_cord:
                each_reference_pin([&](Pins lf, int so_far) {
                    if (in_meter(e.l.far, lf, e.at_launch))
                        finish(so_far, lf, std::nullopt, base + e.l.grade, 2, {}, std::nullopt, lf, lf);
                });
                break;
            case Arrangement::two_cord:
                each_reference_pin([&](Pins lf, int so_far) {
                    for (bool const k : {false, true}) {
                        for (Pins const tn : both) {
                            auto const b = changes(e.t.near_now, e.t.near_free, {tn});
                            if (!b || tn == lf || !lit_through_tail(e, e.at_launch, e.l.far, k)) continue;
                            finish(so_far + *b, lf, tn, base + e.l.grade + e.t.grade, 2, {k}, std::nullopt,
                                   lf, lf);
                        }
                    }
                });
                break;
            case Arrangement::three_cord:
            case Arrangement::changer: {
                bool const three = arrangement == Arrangement::three_cord;
                each_cord(
                    three ? Role::substitution : Role::changer, {e.l.cord, e.t.cord}, [&](Held const& x) {
                        for (bool const a : {false, true}) {
                            auto const in = through(e.l.far, x.near, a, e.at_launch);
                            if (!in) continue;
                            auto const out = along(x.type, x.near, x.far, *in);
                            if (!out) continue;
                            for (Pins const xn : both) {
                                for (Pins const xf : both) {
                                    auto const c1 = changes(x.near_now, x.near_free, {xn});
                                    auto const c2 = changes(x.far_now, x.far_free, {xf});
                                    if (!c1 || !c2) continue;
                                    each_reference_pin([&](Pins lf, int so_far) {
                                        if (lf == xn) return;
                                        if (!three) {
                                            if (in_meter(x.far, xf, *out))
                                                finish(so_far + *c1 + *c2, lf, std::nullopt,
                                                       base + e.l.grade + 2 * x.grade, 3, {a}, x, xn, xf);
                                            return;
                                        }
                                        for (bool const b : {false, true}) {
                                            if (!lit_through_tail(e, *out, x.far, b)) continue;
                                            for (Pins const tn : both) {
                                                auto const c3 = changes(e.t.near_now, e.t.near_free, {tn});
                                                if (!c3 || tn == xf) continue;
                                                finish(so_far + *c1 + *c2 + *c3, lf, tn,
                                                       base + e.l.grade + 2 * x.grade + e.t.grade, 3, {a, b},
                                                       x, xn, xf);
                                            }
                                        }
                                    });
                                }
                            }
                        }
                    });
                break;
            }
            }
        });
    }

    Question const& q_;
    Plug source_, meter_, first_, second_;
    bool tool_ = false;
    int stock_[2] = {0, 0};
    std::optional<Cost> best_;
};

// ---- random kits -------------------------------------------------------------------------------------

Question random_question(std::mt19937_64& random)
{
    auto const one_in = [&](int n) { return static_cast<int>(random() % static_cast<unsigned>(n)) == 0; };
    auto const pick = [&](int n) { return static_cast<int>(random() % static_cast<unsigned>(n)); };
    plant::Family const families[] = {{plant::Family::Key::mpo12, 1, 12},
                                      {plant::Family::Key::mpo12, 2, 12},
                                      {plant::Family::Key::mpo16, 1, 16}};
    plant::Family const family = families[one_in(4) ? 1 : one_in(6) ? 2 : 0];
    bool const angled = one_in(4);
    auto const some_end = [&](bool port) {
        plant::ConnectorEnd end =
            plug_of(one_in(25) ? families[pick(3)] : family, one_in(2) ? Pins::pinned : Pins::unpinned,
                    angled != one_in(20) ? plant::Face::angled : plant::Face::flat);
        if (end.face == plant::Face::angled && one_in(4)) end.slope = plant::Slope::up;
        if (one_in(5)) {
            end.occupied = *plant::parse_occupancy(one_in(2)   ? "1-4"
                                                   : one_in(2) ? "3-10"
                                                               : "1-4,9-12",
                                                   end.family);
        }
        if (port) end.kind = plant::EndKind::port;
        return end;
    };
    auto const keys = [&] { return one_in(3) ? plant::KeyRelation::opposed : plant::KeyRelation::aligned; };
    auto const fitting = [&] {
        return one_in(4)   ? plant::EndFitting::bare_plug
               : one_in(4) ? plant::EndFitting::aligned_adapter
                           : plant::EndFitting::opposed_adapter;
    };
    Question question;
    question.source = {some_end(true), keys()};
    question.meter = {some_end(true), keys()};
    // Ports that suit the plant more often than not, so that many kits have a plan.
    for (Port* port : {&question.source, &question.meter}) {
        if (one_in(5)) continue;
        Port const usual =
            port_of(family, port->face.pins, angled ? plant::Face::angled : plant::Face::flat, port->keys);
        *port = usual;
    }
    if (one_in(10)) question.meter.face.pins = Pins::neutral;
    question.cabling.first = {"a", some_end(false), fitting()};
    question.cabling.second = {"b", some_end(false), fitting()};
    int const cords = 2 + pick(4);
    for (int c = 0; c < cords; ++c) {
        Cord cord;
        cord.id = "c" + std::to_string(c);
        cord.ends = {CordEnd{some_end(false), one_in(3)}, CordEnd{some_end(false), one_in(3)}};
        cord.ends[1].plug.family = cord.ends[0].plug.family;
        for (CordEnd& end : cord.ends) {
            if (!one_in(8)) end.plug.occupied = plant::all_positions(end.plug.family);
            end.plug.occupied &= plant::all_positions(end.plug.family);
        }
        char const* one_row[] = {"A", "B", "C"};
        char const* two_rows[] = {"I-A", "I-B", "C"};
        cord.type = cord.ends[0].plug.family.rows == 1 ? one_row[pick(3)] : two_rows[pick(3)];
        cord.grade = one_in(4) ? facts::CordGrade::standard : facts::CordGrade::reference;
        if (one_in(3)) {
            for (bool& allowed : cord.roles.allowed) allowed = !one_in(3);
        }
        if (one_in(30)) cord.glass.kind = facts::FibreKind::single_mode;
        question.kit.cords.push_back(cord);
        if (one_in(4)) { // one more of the same kind
            cord.id += "'";
            question.kit.cords.push_back(cord);
        }
    }
    if (question.kit.cords.size() > 5) question.kit.cords.resize(5);
    plant::Family::Key const key = question.cabling.first.plug.family.key;
    if (!one_in(8)) question.kit.adapters.push_back({plant::KeyRelation::opposed, key, pick(3)});
    if (!one_in(2)) question.kit.adapters.push_back({plant::KeyRelation::aligned, key, 1 + pick(2)});
    if (!one_in(3)) question.kit.pin_tools.push_back({"tool", key});
    question.permitted.clear();
    for (auto const a :
         {Arrangement::one_cord, Arrangement::two_cord, Arrangement::three_cord, Arrangement::changer}) {
        if (one_in(2)) question.permitted.push_back(a);
    }
    if (question.permitted.empty()) question.permitted = {Arrangement::one_cord};
    question.cord_check = !one_in(6);
    return question;
}

std::string text_of(Question const& q)
{
    auto const end = [](plant::ConnectorEnd const& e) {
        return e.family.name() + "/" + plant::name_of(e.pins) + "/" + plant::name_of(e.slope) + "/" +
               plant::occupancy_text(e.occupied);
    };
    std::string text = "source " + end(q.source.face) + " " + plant::name_of(q.source.keys) + "\nmeter " +
                       end(q.meter.face) + " " + plant::name_of(q.meter.keys) + "\nfirst " +
                       end(q.cabling.first.plug) + " " + plant::name_of(q.cabling.first.fitting) +
                       "\nsecond " + end(q.cabling.second.plug) + " " +
                       plant::name_of(q.cabling.second.fitting) + "\n";
    for (Cord const& c : q.kit.cords) {
        text += c.id + " " + c.type + " " + facts::name_of(c.grade) + " " + end(c.ends[0].plug) +
                (c.ends[0].pins_exchangeable ? "*" : "") + " - " + end(c.ends[1].plug) +
                (c.ends[1].pins_exchangeable ? "*" : "") + " roles";
        for (bool const a : c.roles.allowed) text += a ? " 1" : " 0";
        text += "\n";
    }
    for (auto const& a : q.kit.adapters)
        text += std::string{"adapter "} + plant::name_of(a.keys) + " x" + std::to_string(a.count) + "\n";
    text += "tools " + std::to_string(q.kit.pin_tools.size()) + (q.cord_check ? " check" : " no check");
    for (auto const a : q.permitted) text += std::string{" "} + name_of(a);
    return text;
}

/// The plan replayed: every joint legal by the rules above, and the cost counted from what is done.
void expect_sound(Question const& q, Plan const& plan)
{
    Kit now = q.kit;
    int changes = 0;
    int matings = 0;
    std::vector<PathJoint> standing;
    for (PhasePlan const* phase : plan.phases()) {
        for (PinChange const& change : phase->pin_changes) {
            CordEnd& end =
                now.cords[static_cast<std::size_t>(change.cord)].ends[static_cast<std::size_t>(change.end)];
            EXPECT_TRUE(end.pins_exchangeable);
            EXPECT_NE(end.plug.pins, change.to);
            end.plug.pins = change.to;
            ++changes;
            for (PathJoint const& j : standing) { // an end that stays mated is not worked on
                bool const stays = std::count(phase->opened.begin(), phase->opened.end(), j.place) == 0;
                for (PathEnd const* e : {&j.left, &j.right})
                    EXPECT_FALSE(stays && e->cord == change.cord && e->end == change.end);
            }
        }
        for (PathJoint const& j : phase->path) {
            Light const none = 0;
            bool const touching = !(j.right.part == Part::meter && q.meter.face.pins == Pins::neutral);
            EXPECT_TRUE(through(plug_of_end(j.left.state), plug_of_end(j.right.state),
                                j.keys == plant::KeyRelation::aligned, none, touching));
            EXPECT_TRUE(pins_meet(j.left.state.pins, j.right.state.pins)) << name_of(j.place);
            bool const made = std::count(phase->made.begin(), phase->made.end(), j.place) > 0;
            for (PathEnd const* e : {&j.left, &j.right}) {
                if (e->cord < 0) continue;
                Cord const& cord = now.cords[static_cast<std::size_t>(e->cord)];
                EXPECT_EQ(cord.ends[static_cast<std::size_t>(e->end)].plug, e->state);
                if (made && cord.grade == facts::CordGrade::reference) ++matings;
            }
        }
        standing = phase->path;
    }
    EXPECT_EQ(changes, plan.cost.pin_changes);
    EXPECT_EQ(matings, plan.cost.reference_matings);
}

TEST(BruteForce, agrees_on_random_kits)
{
    int solved = 0;
    int with_changes = 0;
    int by_arrangement[4] = {0, 0, 0, 0};
    constexpr int kits = 5200;
    for (int seed = 1; seed <= kits; ++seed) {
        std::mt19937_64 random{static_cast<std::uint64_t>(seed)};
        Question const question = random_question(random);
        auto const answer = solve(question, SolveOptions{false});
        ASSERT_TRUE(answer) << answer.error().message;
        auto const expected = Enumeration{question}.least();
        ASSERT_EQ(answer->plan.has_value(), expected.has_value()) << "seed " << seed << "\n"
                                                                  << text_of(question) << "\n"
                                                                  << text_of(answer->none);
        if (!expected) {
            EXPECT_EQ(answer->none.blockers.size(), question.permitted.size());
            continue;
        }
        ASSERT_EQ(answer->plan->cost, *expected)
            << "seed " << seed << "\n"
            << text_of(question) << "\nsolver " << answer->plan->cost.pin_changes << " "
            << answer->plan->cost.reference_matings << " " << answer->plan->cost.items << " brute force "
            << expected->pin_changes << " " << expected->reference_matings << " " << expected->items << " "
            << name_of(answer->plan->arrangement) << " " << name_of(answer->plan->check);
        expect_sound(question, *answer->plan);
        ASSERT_FALSE(testing::Test::HasFailure()) << "seed " << seed << "\n" << text_of(question);
        ++solved;
        with_changes += expected->pin_changes > 0 ? 1 : 0;
        ++by_arrangement[static_cast<int>(answer->plan->arrangement)];
    }
    // The kits must not be trivial: enough with a plan, with pin changes, and of every arrangement.
    EXPECT_GT(solved, kits / 10);
    EXPECT_GT(with_changes, kits / 50);
    for (int const count : by_arrangement) EXPECT_GT(count, 20);
    RecordProperty("solved", solved);
    std::printf("solved %d, with pin changes %d, by arrangement %d %d %d %d\n", solved, with_changes,
                by_arrangement[0], by_arrangement[1], by_arrangement[2], by_arrangement[3]);
}

} // namespace brute_force_test
} // namespace guidepin::setup
