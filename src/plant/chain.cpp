// SPDX-License-Identifier: Apache-2.0
#include "plant/chain.hpp"

#include "base/text.hpp"
#include "plant/parts.hpp"
#include "plant/presets.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace guidepin::plant {

namespace {

/// The chain without its adapters, and the adapter (if any) before each node and after the last.
struct Layout
{
    std::vector<std::size_t> nodes;               ///< indices of elements that are not adapters
    std::vector<std::optional<std::size_t>> gaps; ///< nodes.size() + 1
};

bool is_parallel_port(Element const& element)
{
    return element.kind == ElementKind::port && element.value != "duplex";
}

bool is_duplex_side(Element const& element)
{
    return element.kind == ElementKind::duplex ||
           (element.kind == ElementKind::port && !is_parallel_port(element));
}

/// Takes its family and occupancy from what it is joined to, whichever side that is.
bool adapts(Element const& element)
{
    return element.kind == ElementKind::port || element.kind == ElementKind::duplex;
}

Result<Layout> lay_out(std::span<Element const> elements)
{
    Layout layout;
    layout.gaps.emplace_back(std::nullopt);
    for (std::size_t i = 0; i < elements.size(); ++i) {
        if (elements[i].kind != ElementKind::adapter) {
            layout.nodes.push_back(i);
            layout.gaps.emplace_back(std::nullopt);
            continue;
        }
        if (layout.gaps.back()) {
            return Error{Errc::usage,
                         fmt::format("Elements {} and {} are both adapters: put a cord or trunk between "
                                     "them, or leave one out.",
                                     i, i + 1)};
        }
        layout.gaps.back() = i;
    }
    for (std::size_t n = 0; n < layout.nodes.size(); ++n) {
        Element const& element = elements[layout.nodes[n]];
        if (element.kind != ElementKind::port) continue;
        if (n != 0 && n + 1 != layout.nodes.size()) {
            return Error{Errc::usage,
                         fmt::format("Element {} '{}': a port is at the beginning or the end of a "
                                     "chain.",
                                     layout.nodes[n] + 1, element.text())};
        }
        if (layout.gaps[n] || layout.gaps[n + 1]) {
            return Error{Errc::usage,
                         fmt::format("Element {} '{}': a plug goes into a port without an adapter; leave "
                                     "the adapter out.",
                                     layout.nodes[n] + 1, element.text())};
        }
    }
    return layout;
}

/// The key relation by which the far side of `left` meets the near side of `right`.
struct Meeting
{
    std::optional<KeyRelation> keys;
    bool own = false;
};

KeyRelation own_adapter(Element const& module)
{
    return module.adapter.value_or(usual_adapter(module.value));
}

Meeting meeting(Part const& left, Element const& left_element, Part const& right,
                Element const& right_element, Element const* adapter)
{
    bool const left_port = is_parallel_port(left_element);
    bool const right_port = is_parallel_port(right_element);
    if (left_port && right_port) return {};
    if (left_port || right_port) {
        Result<KeyRelation> const keys =
            parse_key_relation(left_port ? left_element.value : right_element.value);
        return Meeting{keys.value_or(KeyRelation::aligned), true};
    }
    if (adapter) return Meeting{parse_key_relation(adapter->value).value_or(KeyRelation::opposed), false};
    ConnectorEnd const& first = left.far.front();
    ConnectorEnd const& second = right.near.front();
    if (first.family.key == Family::Key::duplex || second.family.key == Family::Key::duplex) {
        // A duplex plug goes into the socket of a module or of equipment; the sides of its key decide
        // nothing.
        if (first.kind != second.kind) return Meeting{KeyRelation::opposed, true};
        return {};
    }
    if (left_element.kind == ElementKind::module) return Meeting{own_adapter(left_element), true};
    if (right_element.kind == ElementKind::module) return Meeting{own_adapter(right_element), true};
    return {};
}

Occupancy met_occupancy(ConnectorEnd const& end, std::optional<KeyRelation> keys)
{
    if (!keys || end.family.key == Family::Key::duplex) return end.occupied;
    Occupancy met;
    for (int const p : positions_of(end.occupied)) {
        met.set(static_cast<std::size_t>(met_position(end.family, *keys, p) - 1));
    }
    return met;
}

PositionMap joint_map(ConnectorEnd const& first, ConnectorEnd const& second, MateVerdict const& verdict,
                      std::optional<KeyRelation> keys)
{
    PositionMap map;
    if (!keys) return map;
    for (int const p : verdict.lit) map.connect(p, met_position(first.family, *keys, p));
    return map.restricted(first.occupied, second.occupied);
}

class Builder
{
  public:
    Builder(std::span<Element const> elements, ChainOptions const& options)
        : elements_(elements)
        , options_(options)
    {
    }

    Result<Chain> build()
    {
        TRY_ASSIGN(layout_, lay_out(elements_));
        chain_.elements.assign(elements_.begin(), elements_.end());
        if (layout_.nodes.empty()) return adapter_alone();
        TRY(make_parts());
        for (std::size_t n = 0; n + 1 < parts_.size(); ++n) {
            TRY(match_counts(n));
        }
        compose();
        finish_end(chain_.near, parts_.front().near, layout_.gaps.front(), node(0), true);
        finish_end(chain_.far, parts_.back().far, layout_.gaps.back(), node(parts_.size() - 1), false);
        return std::move(chain_);
    }

  private:
    Element const& node(std::size_t n) const { return elements_[layout_.nodes[n]]; }
    Element const* gap(std::size_t n) const
    {
        return layout_.gaps[n] ? &elements_[*layout_.gaps[n]] : nullptr;
    }

    Result<Chain> adapter_alone()
    {
        if (!layout_.gaps.front())
            return Error{Errc::usage, "A chain needs at least one element, for example trunk:A."};
        KeyRelation const keys = parse_key_relation(elements_.front().value).value_or(KeyRelation::opposed);
        Occupancy const fibres = options_.fibres.any() ? options_.fibres : all_positions(options_.family);
        chain_.map = adapter_map(keys, options_.family).restricted_near(fibres);
        ConnectorEnd end{options_.family,
                         fibres,
                         Pins::unpinned,
                         options_.face,
                         options_.face == Face::angled ? Slope::down : Slope::none,
                         EndKind::plug};
        chain_.near.numbered = {end};
        end.occupied = met_occupancy(end, keys);
        chain_.far.numbered = {end};
        return std::move(chain_);
    }

    PartContext context_of(std::size_t n, bool from_the_right) const
    {
        PartContext context;
        context.options = &options_;
        context.number = layout_.nodes[n] + 1;
        context.beside_port_near = n > 0 && is_parallel_port(node(n - 1));
        context.beside_port_far = n + 1 < layout_.nodes.size() && is_parallel_port(node(n + 1));
        if (n > 0) {
            context.sockets_near =
                is_duplex_side(node(n - 1)) || (!from_the_right && !parts_.empty() && n == parts_.size() &&
                                                parts_.back().far.front().family.key == Family::Key::duplex);
        } else {
            bool const last = layout_.nodes.size() == 1;
            context.sockets_near = !last && !is_duplex_side(node(n + 1)) && !context.beside_port_far;
            if (!last && context.beside_port_far) context.sockets_near = true;
        }
        return context;
    }

    /// One copy of node n for each open connector in `open`, each taking family and occupancy from its own.
    Result<Part> part_for(std::size_t n, std::vector<ConnectorEnd> const& open,
                          std::vector<Occupancy> const& met, bool from_the_right)
    {
        PartContext context = context_of(n, from_the_right);
        if (node(n).is_table() || open.empty()) return make_part(node(n), context);
        std::optional<Part> whole;
        for (std::size_t j = 0; j < open.size(); ++j) {
            context.neighbour = open[j].family;
            context.met = met[j];
            context.met_rows = open[j].family.rows;
            TRY_ASSIGN(Part part, make_part(node(n), context));
            whole = whole ? whole->beside(part) : std::move(part);
        }
        return std::move(*whole);
    }

    Outcome make_parts()
    {
        std::size_t const count = layout_.nodes.size();
        std::size_t base = 0;
        while (base < count && adapts(node(base))) ++base;
        if (base == count) base = 0;
        std::vector<Part> leading;
        leading.reserve(base); // `right` points into it
        TRY_ASSIGN(Part first, part_for(base, {}, {}, false));
        // What comes before the first element with a population of its own takes it over, right to left.
        Part const* right = &first;
        for (std::size_t n = base; n-- > 0;) {
            std::vector<Occupancy> met;
            Part const probe = port_probe(n, right->near.front());
            Meeting const how = meeting(probe, node(n), *right, node(n + 1), gap(n + 1));
            for (ConnectorEnd const& end : right->near) met.push_back(met_occupancy(end, how.keys));
            TRY_ASSIGN(Part part, part_for(n, right->near, met, true));
            leading.push_back(std::move(part));
            right = &leading.back();
        }
        for (std::size_t i = leading.size(); i-- > 0;) parts_.push_back(std::move(leading[i]));
        parts_.push_back(std::move(first));
        for (std::size_t n = base + 1; n < count; ++n) {
            Part const& left = parts_.back();
            Part const probe = port_probe(n, left.far.front());
            Meeting how = meeting(left, node(n - 1), probe, node(n), gap(n));
            std::vector<Occupancy> met;
            for (ConnectorEnd const& end : left.far) met.push_back(met_occupancy(end, how.keys));
            TRY_ASSIGN(Part part, part_for(n, left.far, met, false));
            parts_.push_back(std::move(part));
        }
        return {};
    }

    /// A stand-in for node n, only to find the key relation before the node itself is made.
    Part port_probe(std::size_t n, ConnectorEnd const& neighbour) const
    {
        Part probe;
        ConnectorEnd end = neighbour;
        bool const socket = neighbour.family.key == Family::Key::duplex && !is_duplex_side(node(n));
        end.kind = node(n).kind == ElementKind::port || (socket && node(n).kind == ElementKind::module)
                       ? EndKind::port
                       : EndKind::plug;
        probe.near = {end};
        probe.far = {end};
        return probe;
    }

    /// Makes the connectors on both sides of joint n equal in number, by whole copies of one side.
    Outcome match_counts(std::size_t n)
    {
        std::size_t const left = parts_[n].far.size();
        std::size_t const right = parts_[n + 1].near.size();
        if (left == right) return {};
        std::size_t const most = std::max(left, right);
        if (most % std::min(left, right) != 0) {
            return Error{Errc::usage,
                         fmt::format("Element {} '{}' ends in {} connectors, element {} '{}' begins with "
                                     "{}: they cannot be paired.",
                                     layout_.nodes[n] + 1, node(n).text(), left, layout_.nodes[n + 1] + 1,
                                     node(n + 1).text(), right)};
        }
        bool const copy_left = left < right;
        std::size_t const copies = most / std::min(left, right);
        std::size_t const first = copy_left ? 0 : n + 1;
        std::size_t const last = copy_left ? n : n + 1;
        for (std::size_t i = first; i <= last; ++i) {
            if (parts_[i].near.size() * copies > static_cast<std::size_t>(max_connectors) ||
                parts_[i].far.size() * copies > static_cast<std::size_t>(max_connectors)) {
                return Error{Errc::usage,
                             fmt::format("The chain comes to more than {} connectors side by side at "
                                         "element {} '{}'.",
                                         max_connectors, layout_.nodes[i] + 1, node(i).text())};
            }
            Part const one = parts_[i];
            for (std::size_t k = 1; k < copies; ++k) parts_[i] = parts_[i].beside(one);
        }
        return {};
    }

    void compose()
    {
        chain_.map = parts_.front().map;
        for (std::size_t n = 0; n + 1 < parts_.size(); ++n) {
            Part const& left = parts_[n];
            Part const& right = parts_[n + 1];
            Meeting const how = meeting(left, node(n), right, node(n + 1), gap(n + 1));
            std::optional<FibreMap> joints;
            for (std::size_t j = 0; j < left.far.size(); ++j) {
                Joint joint;
                joint.left = layout_.nodes[n];
                joint.right = layout_.nodes[n + 1];
                joint.adapter = layout_.gaps[n + 1];
                joint.keys = how.keys;
                joint.own_adapter = how.own;
                joint.connector = static_cast<int>(j);
                joint.first = left.far[j];
                joint.second = right.near[j];
                joint.verdict = mate(joint.first, joint.second, how.keys);
                FibreMap const map = joint_map(joint.first, joint.second, joint.verdict, how.keys);
                joints = joints ? joints->beside(map) : map;
                chain_.joints.push_back(std::move(joint));
            }
            chain_.map = chain_.map.then(*joints).then(right.map);
        }
    }

    void finish_end(ChainEnd& end, std::vector<ConnectorEnd> const& own, std::optional<std::size_t> adapter,
                    Element const& element, bool near)
    {
        end.own = own;
        end.numbered = own;
        end.port = is_parallel_port(element)           ? PortKind::parallel
                   : element.kind == ElementKind::port ? PortKind::duplex
                                                       : PortKind::none;
        bool const duplex = own.front().family.key == Family::Key::duplex;
        end.duplex_equipment = duplex && element.kind != ElementKind::module;
        if (!adapter) return;
        KeyRelation const keys = parse_key_relation(elements_[*adapter].value).value_or(KeyRelation::opposed);
        end.adapter = keys;
        std::optional<FibreMap> joints;
        for (ConnectorEnd& outer : end.numbered) {
            FibreMap const map = duplex ? PositionMap::identity(outer.occupied)
                                        : adapter_map(keys, outer.family).restricted_near(outer.occupied);
            joints = joints ? joints->beside(map) : map;
            outer.occupied = met_occupancy(outer, keys);
            outer.pins = complement(outer.pins);
            outer.kind = EndKind::plug;
            if (outer.face == Face::angled && keys == KeyRelation::aligned) {
                outer.slope = outer.slope == Slope::down ? Slope::up : Slope::down;
            }
        }
        chain_.map = near ? joints->inverse().then(chain_.map) : chain_.map.then(*joints);
    }

    std::span<Element const> elements_;
    ChainOptions const& options_;
    Layout layout_;
    std::vector<Part> parts_;
    Chain chain_;
};

} // namespace

Result<Convention> parse_convention(std::string_view text)
{
    std::string const wanted = lowered(trimmed(text));
    if (wanted == "fixed-pinned" || wanted == "f") return Convention::fixed_pinned;
    if (wanted == "modules-pinned" || wanted == "k") return Convention::modules_pinned;
    return Error{Errc::usage,
                 fmt::format("Pin convention '{}' is not one of fixed-pinned, modules-pinned.", text)};
}

bool Chain::joints_ok() const
{
    return std::all_of(joints.begin(), joints.end(), [](Joint const& joint) { return joint.verdict.ok(); });
}

std::string Chain::class_name() const
{
    std::optional<PositionMap> const single = map.single();
    if (!single || near.numbered.size() != 1 || far.numbered.size() != 1) return "";
    Family const& family = near.numbered.front().family;
    if (family.key == Family::Key::duplex || !(family == far.numbered.front().family)) return "";
    return plant::class_name(*single, family);
}

Result<Chain> build_chain(std::span<Element const> elements, ChainOptions const& options)
{
    return Builder{elements, options}.build();
}

} // namespace guidepin::plant
