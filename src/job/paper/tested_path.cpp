// SPDX-License-Identifier: Apache-2.0
#include "job/paper/tested_path.hpp"

#include "base/text.hpp"
#include "job/paper/wording.hpp"
#include "job/sheet/locale.hpp"
#include "plant/presets.hpp"

#include <fmt/format.h>

namespace guidepin::job {

namespace {

class TestedPath
{
  public:
    TestedPath(JobState const& state, plant::LinkSpec const& link, plant::LinkModel const& model,
               TestedWith const& with, std::vector<std::string>& remarks)
        : state_(state)
        , link_(link)
        , locale_(locale_of(state.settings))
        , with_(with)
        , remarks_(remarks)
        , near_(model.near_end)
        , far_(model.far_end)
        , near_spec_(&link.a)
        , far_spec_(&link.b)
    {
        // A test cord meets a plug, whatever is behind it.
        for (plant::ConnectorEnd* end : {&near_, &far_}) {
            if (end->family.key != plant::Family::Key::duplex) end->kind = plant::EndKind::plug;
        }
        if (!with.from_b) return;
        std::swap(near_, far_);
        std::swap(near_spec_, far_spec_);
    }

    drawing::LightPath draw()
    {
        path_.name = fmt::format("Light path of {}", link_.id);
        auto const source = item_of(with_.kit.source), meter = item_of(with_.kit.meter);
        auto const launch = item_of(with_.kit.launch), tail = item_of(with_.kit.tail);
        bool const tail_stays = with_.method && *with_.method != setup::ReferenceMethod::one_cord;
        add_instrument(drawing::BodyKind::source, "Source", with_.kit.source, source);
        add_joint(drawing::JointKind::port, port_keys(source), "", true);
        add_cord({"Launch cord", with_.kit.launch, launch}, {port_of(source), near_, keys_of(*near_spec_)},
                 false);
        add_joint(drawing::JointKind::adapter, keys_of(*near_spec_), with_.from_b ? "End B" : "End A", false);
        add_cabling();
        add_joint(drawing::JointKind::adapter, keys_of(*far_spec_), with_.from_b ? "End A" : "End B", false);
        add_cord({"Tail cord", with_.kit.tail, tail}, {port_of(meter), far_, keys_of(*far_spec_)}, true);
        // With two or three cords the tail cord has been in the meter since the reference.
        add_joint(drawing::JointKind::port, port_keys(meter), "", tail_stays);
        add_instrument(drawing::BodyKind::meter, "Meter", with_.kit.meter, meter);
        judge_joints();
        return std::move(path_);
    }

  private:
    /// An end of the line as far as it is known.
    using Known = std::optional<plant::ConnectorEnd>;

    std::optional<KitItem> item_of(std::string const& serial) const
    {
        return serial.empty() ? std::nullopt : item_at(state_, serial, with_.at);
    }
    static Known port_of(std::optional<KitItem> const& item)
    {
        return item && item->is_instrument() ? Known(item->port.face) : Known();
    }
    static plant::KeyRelation port_keys(std::optional<KitItem> const& item)
    {
        return item && item->is_instrument() ? item->port.keys : plant::KeyRelation::aligned;
    }
    static plant::KeyRelation keys_of(plant::LinkEnd const& end)
    {
        return end.fitting == plant::EndFitting::aligned_adapter ? plant::KeyRelation::aligned
                                                                 : plant::KeyRelation::opposed;
    }

    drawing::LightEnd end_of(Known const& known, plant::EndKind kind)
    {
        drawing::LightEnd end;
        end.kind = kind;
        end.known = known.has_value();
        end.key_up = key_up_;
        if (!known) return end;
        end.pins = known->pins;
        end.face = known->face;
        end.slope = known->slope;
        return end;
    }

    void add_joint(drawing::JointKind kind, plant::KeyRelation keys, std::string label, bool stays)
    {
        drawing::LightJoint joint;
        joint.kind = kind;
        joint.keys = keys;
        joint.label = std::move(label);
        joint.stays = stays;
        if (keys == plant::KeyRelation::opposed) key_up_ = !key_up_;
        path_.joints.push_back(std::move(joint));
    }

    void add_instrument(drawing::BodyKind kind, char const* title, std::string const& serial,
                        std::optional<KitItem> const& item)
    {
        drawing::LightBody body;
        body.kind = kind;
        body.title = title;
        body.serial = serial;
        auto end = end_of(port_of(item), plant::EndKind::port);
        (kind == drawing::BodyKind::source ? body.right : body.left) = end;
        path_.bodies.push_back(std::move(body));
        ends_.push_back({{}, {}});
        (kind == drawing::BodyKind::source ? ends_.back().right : ends_.back().left) = port_of(item);
    }

    /// Can these two be mated? Unknown ones can.
    static bool fits(Known const& a, Known const& b, plant::KeyRelation keys)
    {
        if (!a || !b) return true;
        if (a->pins == plant::Pins::neutral || b->pins == plant::Pins::neutral)
            return a->family.key == b->family.key; // such a port touches no ferrule
        plant::MateVerdict const verdict = plant::mate(*a, *b, keys);
        return verdict.may_be_attempted() && a->pins != b->pins;
    }

    struct NamedCord
    {
        char const* title;
        std::string const& serial;
        std::optional<KitItem> const& item;
    };
    /// What a cord joins: the instrument's port and the cabling, with the keys of the cabling's adapter.
    struct CordPlace
    {
        Known port;
        plant::ConnectorEnd const& cabling;
        plant::KeyRelation keys;
    };

    /// The near plug is the one at the instrument; a cord that only fits the other way round was used so.
    void add_cord(NamedCord const& named, CordPlace const& place, bool tail)
    {
        auto const& [title, serial, item] = named;
        drawing::LightBody body;
        body.kind = drawing::BodyKind::cord;
        body.title = title;
        body.serial = serial;
        Known at_port, at_cabling;
        std::string type;
        if (item && item->sort == KitSort::cord) {
            setup::Cord const& cord = item->cord;
            type = cord.type;
            body.detail = fmt::format("type {}, {}, {}", cord.type, cord_length(cord.length, locale_),
                                      grade_text(cord.grade));
            plant::KeyRelation const at_instrument =
                tail ? port_keys(item_of(with_.kit.meter)) : port_keys(item_of(with_.kit.source));
            auto const good = [&](int near) {
                return fits(cord.ends[static_cast<std::size_t>(near)].plug, place.port, at_instrument) &&
                       fits(cord.ends[static_cast<std::size_t>(1 - near)].plug, place.cabling, place.keys);
            };
            std::size_t const near = !good(0) && good(1) ? 1 : 0;
            at_port = cord.ends[near].plug;
            at_cabling = cord.ends[1 - near].plug;
        } else {
            body.detail = "not recorded";
        }
        body.left = end_of(tail ? at_cabling : at_port, plant::EndKind::plug);
        if (plant::turns_key(type)) key_up_ = !key_up_;
        body.right = end_of(tail ? at_port : at_cabling, plant::EndKind::plug);
        path_.bodies.push_back(std::move(body));
        ends_.push_back(tail ? Ends{at_cabling, at_port} : Ends{at_port, at_cabling});
    }

    void add_cabling()
    {
        drawing::LightBody body;
        body.kind = drawing::BodyKind::cabling;
        body.title = link_.id;
        body.detail =
            fmt::format("{}, {}, {}", link_.category, cord_length(link_.length, locale_), link_.trunk_type);
        body.left = end_of(near_, plant::EndKind::plug);
        body.left->kind = near_.kind;
        body.left->label = near_spec_->name;
        if (plant::turns_key(link_.trunk_type)) key_up_ = !key_up_;
        body.right = end_of(far_, plant::EndKind::plug);
        body.right->kind = far_.kind;
        body.right->label = far_spec_->name;
        path_.bodies.push_back(std::move(body));
        ends_.push_back({near_, far_});
    }

    void judge_joints()
    {
        for (std::size_t i = 0; i < path_.joints.size(); ++i) {
            Known const& left = ends_[i].right;
            Known const& right = ends_[i + 1].left;
            drawing::LightJoint& joint = path_.joints[i];
            if (fits(left, right, joint.keys)) continue;
            plant::MateVerdict const verdict = plant::mate(*left, *right, joint.keys);
            joint.fault = verdict.text();
            auto const named = [](drawing::LightBody const& body) {
                return body.serial.empty() ? body.title
                                           : fmt::format("{} {}", lowered(body.title), body.serial);
            };
            remarks_.push_back(fmt::format(
                "As the kit is registered, {} and {} cannot be mated: {}. The drawing shows what is "
                "registered; see that the register says what was used.",
                named(path_.bodies[i]), named(path_.bodies[i + 1]), joint.fault));
        }
    }

    struct Ends
    {
        Known left, right;
    };
    JobState const& state_;
    plant::LinkSpec const& link_;
    report::Locale const locale_;
    TestedWith const& with_;
    std::vector<std::string>& remarks_;
    plant::ConnectorEnd near_, far_;
    plant::LinkEnd const* near_spec_;
    plant::LinkEnd const* far_spec_;
    drawing::LightPath path_;
    std::vector<Ends> ends_; ///< of each body
    bool key_up_ = true;
};

} // namespace

drawing::LightPath tested_path(JobState const& state, plant::LinkSpec const& link,
                               plant::LinkModel const& model, TestedWith const& with,
                               std::vector<std::string>& remarks)
{
    return TestedPath(state, link, model, with, remarks).draw();
}

} // namespace guidepin::job
