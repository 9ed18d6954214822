// SPDX-License-Identifier: Apache-2.0
#include "job/findings/record_findings.hpp"

#include "cause/explainer.hpp"
#include "cause/identity.hpp"
#include "job/sheet/locale.hpp"
#include "verdict/timeline.hpp"

#include <algorithm>
#include <map>
#include <set>

#include <fmt/format.h>

namespace guidepin::job {

namespace {

constexpr char const* name_it_right = "Enter it once more with the right name. Acknowledge this finding when "
                                      "it was meant for nothing in this job.";

class Remarks
{
  public:
    explicit Remarks(JobState const& state)
        : state_(state)
        , all_(state.remarks)
    {
    }

    std::vector<RecordRemark> all()
    {
        events();
        decisions();
        withdrawals();
        items();
        return std::move(all_);
    }

  private:
    void add(char const* rule, std::string subject, std::string text)
    {
        all_.push_back({rule, std::move(subject), std::move(text), name_it_right});
    }

    bool has_reference(verdict::ReferenceId const& id) const { return state_.reference_index.contains(id); }

    void events()
    {
        for (ReferenceEvent const& event : state_.events) {
            std::string const moment = fmt::format("event of {}", instant_text(event.at));
            if (!verdict::parse_void_kind(event.event))
                add("event-unknown", moment,
                    fmt::format(
                        "The {} is of a sort that this program does not know (\"{}\") and has no effect",
                        moment, event.event));
            if (!event.reference.empty() && !has_reference(event.reference))
                add("event-for-nothing", fmt::format("reference {}", event.reference),
                    fmt::format("The {} names reference {}, which the job does not have. It has no effect",
                                moment, event.reference));
        }
        for (CordCheckEntry const& check : state_.checks) {
            if (!has_reference(check.reference))
                add("cord-check-for-nothing", fmt::format("cord check {}", check.id),
                    fmt::format(
                        "Cord check {} names reference {}, which the job does not have. It has no effect",
                        check.id, check.reference));
        }
    }

    void decisions()
    {
        for (TrustDecision const& decision : state_.trust_decisions) {
            if (!has_reference(decision.reference))
                add("decision-for-nothing", fmt::format("reference {}", decision.reference),
                    fmt::format(
                        "{} decided at {} to rely on reference {}, which the job does not have. The decision "
                        "has no effect",
                        decision.person, instant_text(decision.at), decision.reference));
        }
    }

    void withdrawals()
    {
        std::set<std::pair<std::string, std::int64_t>> imports;
        for (SourceFile const& file : state_.files) imports.emplace(file.station, file.sequence);
        for (Withdrawal const& withdrawal : state_.withdrawals) {
            if (!imports.contains({withdrawal.station, withdrawal.sequence}))
                add("withdrawal-of-nothing",
                    fmt::format("import {}:{}", withdrawal.station, withdrawal.sequence),
                    fmt::format(
                        "{} withdrew import {}:{} at {}, which the job does not have. It has no effect",
                        withdrawal.person, withdrawal.station, withdrawal.sequence,
                        instant_text(withdrawal.at)));
        }
    }

    void items()
    {
        std::map<std::string, KitItem const*> known;
        for (KitItem const& item : state_.kit.items) {
            auto const [place, is_new] = known.try_emplace(item.serial, &item);
            if (!is_new && place->second->sort != item.sort)
                all_.push_back(
                    {"item-twice", fmt::format("kit item {}", item.serial),
                     fmt::format("{} was registered as a {} by {} and as a {} by {}. The later one is used",
                                 item.serial, name_of(place->second->sort), place->second->person,
                                 name_of(item.sort), item.person),
                     "Look at the serials on both and register each under its own."});
            place->second = &item;
        }
        for (Instrument const& instrument : state_.settings.instruments)
            known.try_emplace(instrument.id, nullptr);
        for (Cord const& cord : state_.settings.cords) known.try_emplace(cord.id, nullptr);
        auto const need = [&](std::string const& serial, char const* what, Instant at) {
            if (!known.contains(serial))
                add("entry-for-nothing", fmt::format("kit item {}", serial),
                    fmt::format("The {} of {} names {}, which the kit does not have. It has no effect", what,
                                instant_text(at), serial));
        };
        for (PinsChanged const& change : state_.kit.pin_changes) need(change.item, "pin change", change.at);
        for (FaceInspected const& inspection : state_.kit.inspections)
            need(inspection.seen.item, "inspection", inspection.at);
        for (KitOverride const& decision : state_.kit.overrides) need(decision.item, "decision", decision.at);
    }

    JobState const& state_;
    std::vector<RecordRemark> all_;
};

} // namespace

std::vector<RecordRemark> record_remarks(JobState const& state)
{
    return Remarks(state).all();
}

void add_record_findings(JobState const& state, std::vector<cause::Finding>& findings)
{
    std::set<std::string> ids;
    for (RecordRemark const& remark : record_remarks(state)) {
        cause::Finding finding;
        finding.cause = cause::Cause::contradicting_records;
        finding.subject = remark.subject;
        finding.probability = 1;
        finding.evidence = with_times(remark.text, state.settings) + ".";
        finding.action = remark.action;
        finding.id = cause::identity_of(finding.cause, {remark.rule, remark.subject, remark.text}, {});
        if (ids.insert(finding.id).second) findings.push_back(std::move(finding));
    }
    cause::order_findings(findings);
}

} // namespace guidepin::job
