// SPDX-License-Identifier: Apache-2.0
#include "setup/steps.hpp"

#include "base/text.hpp"
#include "setup/step_kind.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

namespace guidepin::setup {

using plant::Pins;

namespace {

std::string slug(std::string text)
{
    std::replace(text.begin(), text.end(), ' ', '-');
    return text;
}

class StepList
{
  public:
    StepList(Question const& question, Plan const& plan, std::vector<CheckExpectation> const& checks,
             std::string const& arrival)
        : question_(question)
        , plan_(plan)
        , checks_(checks)
        , arrival_(arrival)
    {
    }

    std::vector<Step> write(facts::Fact const& warm_up)
    {
        prepare(warm_up);
        if (plan_.reference) {
            change_pins(*plan_.reference);
            mate_all(*plan_.reference);
            take_reference();
        }
        if (plan_.cord_check) {
            open_all(*plan_.cord_check);
            change_pins(*plan_.cord_check);
            mate_all(*plan_.cord_check);
            check();
        }
        open_all(plan_.test);
        change_pins(plan_.test);
        mate_all(plan_.test);
        test();
        mind_the_pins();
        return std::move(steps_);
    }

  private:
    Step& add(Phase phase, std::string id, std::string text)
    {
        Step step;
        step.number = static_cast<int>(steps_.size()) + 1;
        step.phase = phase;
        while (!ids_.insert(id).second) id += "-again";
        step.id = std::move(id);
        step.text = std::move(text);
        steps_.push_back(std::move(step));
        return steps_.back();
    }

    /// Reminds of the pins on every way back that passes a change of pins.
    void mind_the_pins()
    {
        for (std::size_t i = 0; i < steps_.size(); ++i) {
            if (goes_back_past_pins(steps_, i))
                steps_[i].if_not += " On the way back, first change the pins back to what they were there.";
        }
    }

    std::string key(Phase phase) const { return slug(name_of(phase)); }

    /// "the far plug of the launch cord TC1", "the meter's port", "the first end of the cabling (A12)".
    std::string end_name(PathEnd const& end) const
    {
        if (end.part == Part::source) return "the source's port";
        if (end.part == Part::meter) return "the meter's port";
        if (end.part == Part::cabling) {
            CablingEnd const& at = end.end == 0 ? question_.cabling.first : question_.cabling.second;
            return at.name.empty()
                       ? fmt::format("the {} end of the cabling", end.end == 0 ? "first" : "second")
                       : fmt::format("the cabling's end {}", at.name);
        }
        Cord const& cord = question_.kit.cords[static_cast<std::size_t>(end.cord)];
        bool const up =
            cord.ends[static_cast<std::size_t>(end.end)].plug.slope == plant::Slope::up; // not the usual one
        return fmt::format("the {}{} plug of the {} {}", up ? "up-angled " : "",
                           end.end == 0 ? "near" : "far", name_of(end.part), cord.id);
    }
    static std::string pins_text(Pins pins)
    {
        return pins == Pins::pinned     ? "two pins"
               : pins == Pins::unpinned ? "two empty holes"
                                        : "no pins and no holes";
    }

    void prepare(facts::Fact const& warm_up)
    {
        {
            Step& step = add(Phase::prepare, "prepare.released",
                             "Ask whether the fibres that you are going to test are released for it.");
            step.look_for = "A clear yes from whoever answers for the room, for each link of this set-up.";
            step.if_not = "Do not start. Test other links first.";
            step.cautions = {"released", "live-fibre", "instructions"};
        }
        if (!plan_.reference) {
            Step& step = add(
                Phase::prepare, "prepare.still-in-force",
                "Leave the source on, and the launch cord in it: the reference that is in force goes on.");
            step.look_for = "The same launch cord, never taken out of the source since the reference.";
            step.if_not = "The reference is void. Ask for a set-up with a new reference.";
            step.cautions = {"live-fibre"};
            return;
        }
        {
            Step& step = add(Phase::prepare, "prepare.charge", "Check the batteries of source and meter.");
            step.look_for = "Enough charge for the whole run; the source will run on its battery.";
            step.if_not =
                "Charge first. A source that changes over to the charger half-way shifts its power.";
        }
        {
            Step& step = add(Phase::prepare, "prepare.warm-up",
                             "Take the source off external power, switch it on and let it warm up.");
            step.minutes = warm_up.value;
            step.look_for =
                fmt::format("At least {} minutes gone, or the maker's time where that is longer; the "
                            "source is as warm as the room.",
                            number_text(warm_up.value));
            step.if_not = "Wait. After a change of temperature start the time again.";
            step.cautions = {"live-fibre", "instructions"};
        }
        {
            Step& step = add(Phase::prepare, "prepare.lay-out",
                             "Lay out the cords and adapters of this set-up: " + kit_text() + ".");
            step.look_for = "Each label as on this card, each end capped, nothing over its limits.";
            step.if_not = "Do not put another cord in its place: ask for a new set-up with what you have.";
            step.cautions = {"glass-and-pins"};
        }
    }

    std::string kit_text() const
    {
        std::vector<std::string> parts;
        auto const add_cord = [&](char const* part, CordUse const& use) {
            Cord const& cord = question_.kit.cords[static_cast<std::size_t>(use.cord)];
            std::string const slopes = slopes_text(cord);
            parts.push_back(fmt::format("{} {}{}", part, cord.id, slopes.empty() ? "" : " (" + slopes + ")"));
        };
        add_cord("launch cord", plan_.launch);
        add_cord("tail cord", plan_.tail);
        if (plan_.extra)
            add_cord(plan_.arrangement == Arrangement::changer ? "changer cord" : "substitution cord",
                     *plan_.extra);
        if (plan_.known && !(plan_.extra && plan_.known->cord == plan_.extra->cord))
            add_cord("known cord", *plan_.known);
        auto const adapters = [&](int count, char const* keys) {
            if (count > 0)
                parts.push_back(fmt::format("{} adapter{} with {} keys", count, count > 1 ? "s" : "", keys));
        };
        adapters(plan_.opposed_adapters, "opposed");
        adapters(plan_.aligned_adapters, "aligned");
        if (plan_.pin_tool) parts.emplace_back("the pin tool");
        return joined(parts, ", ");
    }

    void light_off(Phase phase)
    {
        Step& step = add(phase, key(phase) + ".light-off",
                         "Switch the light of the source off; leave the source itself on.");
        step.look_for = "The source says that no light is on.";
        step.if_not =
            "Do not inspect anything. If the light cannot be switched off alone, follow the maker's "
            "instructions before you open a joint.";
        step.cautions = {"live-fibre"};
    }
    void light_on(Phase phase)
    {
        Step& step = add(phase, key(phase) + ".light-on",
                         phase == Phase::reference
                             ? "Switch the light of the source on."
                             : "Switch the light of the source on again, in the mode of the reference.");
        step.look_for = phase == Phase::reference
                            ? "The wavelength and the mode of the job; the reading is steady."
                            : "Same wavelength, same mode as in the reference; the reading is steady.";
        step.if_not = "Wait until it is steady. If it does not, take the reference again.";
        step.goes_back_to = "";
        step.cautions = {"live-fibre"};
        if (phase != Phase::reference && plan_.reference) step.goes_back_to = first_reference_step();
    }
    std::string first_reference_step() const
    {
        for (Step const& step : steps_) {
            if (step.phase == Phase::reference) return step.id;
        }
        return "";
    }

    void change_pins(PhasePlan const& phase)
    {
        if (phase.pin_changes.empty()) return;
        ensure_dark(phase.phase);
        for (PinChange const& change : phase.pin_changes) {
            bool const fit = change.to == Pins::pinned;
            PathEnd end;
            end.part = change.part;
            end.cord = change.cord;
            end.end = change.end;
            std::string const name = end_name(end);
            std::string const stem =
                fmt::format("{}.pins.{}-{}", key(phase.phase), slug(name_of(change.part)), change.end + 1);
            Step& act = add(phase.phase, stem,
                            fmt::format("{} {}, with the pin tool.",
                                        fit ? "Fit the pins to" : "Take the pins out of", name));
            act.subject = name;
            act.look_for = fit ? "Both pins go home without force and sit equally far out."
                               : "Both pins are in your hand, whole, and in their box.";
            act.if_not = "Stop and put the cord aside. A bent or broken pin ruins every plug that it meets.";
            act.cautions = {"glass-and-pins", "pinned-never-pinned"};
            Step& count = add(phase.phase, stem + ".count",
                              fmt::format("Count the pins of {} and look at its key.", name));
            count.look_for = fmt::format("{}; the key on the same side of the mark as before.",
                                         fit ? "Two pins" : "No pin, two empty holes");
            count.if_not = "Do it again. A key that changed sides turns the numbering and the slope round.";
            count.goes_back_to = stem;
            Step& inspect = add(phase.phase, stem + ".inspect",
                                fmt::format("Clean and inspect {} once more: the face was handled.", name));
            inspect.look_for =
                "Every fibre free of scratches and dirt, nothing at the feet of the pins or in the holes.";
            inspect.if_not = "Clean again, dry first, then wet and dry. If it stays, put the cord aside.";
            inspect.goes_back_to = stem + ".count";
            inspect.cautions = {"live-fibre", "scope"};
            Step& book =
                add(phase.phase, stem + ".write-down", fmt::format("Write the pin change of {} down.", name));
            book.look_for = "One more in the register of the kit.";
            book.if_not = "Write it now: the plug is made for a limited number of changes.";
        }
    }

    void ensure_dark(Phase phase)
    {
        if (dark_) return;
        light_off(phase);
        dark_ = true;
    }

    void open_all(PhasePlan const& phase)
    {
        if (phase.opened.empty()) return;
        ensure_dark(phase.phase);
        for (Place const place : phase.opened) {
            bool const at_meter = place == Place::launch_meter || place == Place::changer_meter;
            Step& step = add(
                phase.phase, fmt::format("{}.open.{}", key(phase.phase), slug(name_of(place))),
                at_meter
                    ? fmt::format("Open the joint '{}' at the meter. Never at the source.", name_of(place))
                    : fmt::format("Open the joint '{}'. Leave the source's joint alone.", name_of(place)));
            step.look_for = "The launch cord is still in the source and was not turned or pulled.";
            step.if_not = "If it came loose at the source, the reference is void: take it again.";
            if (plan_.reference) step.goes_back_to = first_reference_step();
            step.cautions = {"live-fibre"};
        }
        Step& cap = add(phase.phase, key(phase.phase) + ".cap", "Cap every end that is not mated next.");
        cap.look_for = "No bare end on the bench or hanging free.";
        cap.if_not = "Treat it as dirty: inspect and clean before it is mated.";
    }

    void mate_all(PhasePlan const& phase)
    {
        if (!phase.made.empty()) ensure_dark(phase.phase);
        for (PathJoint const& joint : phase.path) {
            if (std::find(phase.made.begin(), phase.made.end(), joint.place) == phase.made.end()) continue;
            std::string const stem = fmt::format("{}.{{}}.{}", key(phase.phase), slug(name_of(joint.place)));
            auto const id = [&](char const* what) { return fmt::format(fmt::runtime(stem), what); };
            for (PathEnd const* end : {&joint.left, &joint.right}) {
                bool const left = end == &joint.left;
                Step& inspect =
                    add(phase.phase, id(left ? "inspect-a" : "inspect-b"),
                        fmt::format("Inspect {}, clean it, and inspect it again.", end_name(*end)));
                inspect.subject = end_name(*end);
                inspect.look_for = fmt::format("{}, every fibre clean, key side as marked.",
                                               sentence_case(pins_text(end->state.pins)));
                inspect.if_not =
                    "Clean again, dry first, then wet and dry; round the pins as well. If it stays dirty or "
                    "damaged, do not mate it: put it aside and ask.";
                inspect.cautions = {"live-fibre", "scope", "glass-and-pins"};
            }
            Step& mate = add(phase.phase, id("mate"), mate_text(joint));
            mate.subject = joint_by(joint);
            mate.look_for =
                "Pins on one side only, keys as drawn; it goes home with one click and without force.";
            mate.if_not =
                "Stop. Look for pins on both sides or on none, for the key, and for a flat face against an "
                "angled one. Then inspect both ends again.";
            mate.goes_back_to = id("inspect-a");
            mate.cautions = {"pinned-never-pinned"};
        }
        if (dark_) {
            light_on(phase.phase);
            dark_ = false;
        }
    }

    static std::string sentence_case(std::string text)
    {
        if (!text.empty() && text[0] >= 'a' && text[0] <= 'z')
            text[0] = static_cast<char>(text[0] - 'a' + 'A');
        return text;
    }

    /// " through an adapter of the kit with opposed keys"; "" where a plug goes into a port.
    static std::string joint_by(PathJoint const& joint)
    {
        if (joint.joined_by == JoinedBy::kit_adapter)
            return fmt::format(" through an adapter of the kit with {} keys", plant::name_of(joint.keys));
        if (joint.joined_by == JoinedBy::panel_adapter)
            return fmt::format(" through the panel's adapter ({} keys)", plant::name_of(joint.keys));
        return {};
    }
    std::string mate_text(PathJoint const& joint) const
    {
        std::string const by = joint_by(joint);
        return fmt::format("Mate {} ({}) with {} ({}){}.", end_name(joint.left),
                           pins_text(joint.left.state.pins), end_name(joint.right),
                           pins_text(joint.right.state.pins), by);
    }

    void take_reference()
    {
        Step& step =
            add(Phase::reference, "reference.take",
                "Take the reference: every position, every wavelength of the job. Write it to the record.");
        step.look_for =
            "All positions lit, all powers in the expected window and close to one another; a second "
            "reading agrees with the first.";
        step.if_not =
            "Open at the meter, inspect and clean again, mate again. Only if that does not help, look at the "
            "source's joint.";
        step.goes_back_to = first_reference_step();
        step.cautions = {"live-fibre"};
        Step& stay = add(Phase::reference, "reference.leave",
                         "From now on leave the launch cord in the source. Put a mark on that joint.");
        stay.look_for = "Nobody will take it out by mistake.";
        stay.if_not = "If it was taken out, or only turned, the reference is void.";
        stay.goes_back_to = first_reference_step();
    }

    void check()
    {
        std::vector<std::string> limits;
        for (CheckExpectation const& row : checks_) {
            limits.push_back(fmt::format("{} nm between {} and {} dB", row.wavelength.value(),
                                         fixed_text(row.least.value(), 2), fixed_text(row.most.value(), 2)));
            if (row.refused_below < row.least)
                limits.back() +=
                    fmt::format(" ({} to {} dB with a remark)", fixed_text(row.refused_below.value(), 2),
                                fixed_text(row.refused_above.value(), 2));
            else if (row.refused_above > row.most)
                limits.back() +=
                    fmt::format(" (up to {} dB with a remark)", fixed_text(row.refused_above.value(), 2));
        }
        Step& measure = add(Phase::check, "cord-check.measure",
                            "Measure the cords joined like this, every position and wavelength.");
        measure.look_for = limits.empty() ? "Each position within what the rule set allows."
                                          : fmt::format("Every position within: {}.", joined(limits, "; "));
        measure.if_not = "Refuse. Open the joint that you made for the check, inspect, clean and mate again, "
                         "once. If it is "
                         "still outside, or below the lower value, take the reference again.";
        measure.goes_back_to = plan_.reference ? first_reference_step() : check_start();
        measure.cautions = {"live-fibre"};
        if (!arrival_.empty()) {
            Step& arrives =
                add(Phase::check, "cord-check.arrival",
                    "Look where the light of each position arrives, and at the length of the cords.");
            arrives.look_for = arrival_;
            arrives.if_not = "Refuse. Look at the type and direction of the cords and at the keys of the "
                             "adapters.";
            arrives.goes_back_to = check_start();
            arrives.cautions = {"live-fibre"};
        }
        Step& accept = add(Phase::check, "cord-check.accept",
                           "Accept the check, or refuse it, and write the result to the record.");
        accept.look_for = "Accepted, with the worst position written down.";
        accept.if_not = "No link may be tested under this reference.";
        accept.goes_back_to = plan_.reference ? first_reference_step() : check_start();
        accept.cautions = {"who-decides"};
    }
    std::string check_start() const
    {
        for (Step const& step : steps_) {
            if (step.phase == Phase::check) return step.id;
        }
        return "";
    }

    void test()
    {
        Step& start = add(Phase::test, "test.start",
                          "Measure this link, every position and wavelength, and go on to the next one.");
        start.look_for =
            "All positions that the link has are lit, and no attenuation is below zero by more than the "
            "uncertainty.";
        start.if_not =
            "All dark or high and unsteady: look at the pins of both joints. Below zero: the reference is in "
            "doubt, check the cords again.";
        start.goes_back_to = plan_.cord_check ? check_start() : plan_.reference ? first_reference_step() : "";
        start.cautions = {"live-fibre", "who-decides"};
        Step& each =
            add(Phase::test, "test.each-link",
                "At every further link: light off, inspect and clean all four ends, mate, light on.");
        each.look_for = "Both plugs of the cabling and both test cords clean, each time.";
        each.if_not = "Do not measure a joint that was not inspected: inspect it now.";
        each.cautions = {"live-fibre", "scope", "released"};
        Step& caps = add(Phase::test, "test.keep-capped",
                         "Keep unused ends capped, and cap the cabling again when its link is done.");
        caps.look_for = "No open end left behind.";
        caps.if_not = "Cap it; count it as dirty.";
    }

    Question const& question_;
    Plan const& plan_;
    std::vector<CheckExpectation> const& checks_;
    std::string const& arrival_;
    std::vector<Step> steps_;
    std::set<std::string> ids_;
    bool dark_ = false;
};

} // namespace

std::vector<Caution> const& cautions()
{
    static std::vector<Caution> const all{
        {"live-fibre",
         "Light from fibre is invisible and can harm the eye. Never look into an end. Treat every fibre as "
         "live until a meter has shown that it is dark."},
        {"scope",
         "Switch the source off before an end is inspected. Never look through a scope at a live end."},
        {"released", "Work only on fibres that are released for test."},
        {"glass-and-pins",
         "Glass ends and loose pins injure, and damage what they fall into. Keep count of every pin."},
        {"pinned-never-pinned",
         "Pinned never to pinned: it damages both plugs. Unpinned to unpinned latches, but is no "
         "joint."},
        {"instructions",
         "Follow the instrument maker's instructions, IEC 60825-2, the rules of the site and local codes."},
        {"who-decides", "Acceptance is the decision of the qualified person who signs, not of this program."},
    };
    return all;
}

Result<std::vector<Step>> steps(Question const& question, Plan const& plan,
                                std::vector<CheckExpectation> const& checks, facts::Tables const& tables,
                                std::string const& arrival)
{
    facts::Fact const* const warm_up = tables.fact("readiness.warm-up");
    if (warm_up == nullptr) {
        return Error{Errc::not_found,
                     "The fact tables have no readiness.warm-up; the time to warm up must come from "
                     "them."};
    }
    return StepList{question, plan, checks, arrival}.write(*warm_up);
}

} // namespace guidepin::setup
