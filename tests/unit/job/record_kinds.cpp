// SPDX-License-Identifier: Apache-2.0
// The registry of record kinds, walked row by row. Oracles: seeds of each kind, which Guidepin wrote (they
// come back byte for byte); the job file, which counts its records by kind; the manual.
#include "job/state/record_kinds.hpp"

#include "job/entry/set_up_record.hpp"
#include "job/sheet/kit_file.hpp"
#include "job/state/state.hpp"
#include "record/canonical_json.hpp"
#include "record/kind.hpp"

#include <fstream>
#include <iterator>

#include "scratch_job.hpp"

namespace guidepin::job {
namespace record_kinds_test {

using ::testing::HasSubstr;

std::string text_of(std::string const& path)
{
    std::ifstream file(fmt::format("{}/{}", GUIDEPIN_SOURCE_DIR, path), std::ios::binary);
    EXPECT_TRUE(file.is_open()) << path;
    return {std::istreambuf_iterator<char>(file), {}};
}

std::string seed_of(RecordKind const& kind)
{
    return text_of(fmt::format("tests/fuzz/corpus/record_bodies/{}", kind.name));
}

record::RecordView view_of(RecordKind const& kind, std::string_view body)
{
    record::RecordView view;
    view.station = "0123456789ab";
    view.sequence = 7;
    view.kind = kind.name;
    view.time = *parse_instant("2026-03-02T09:00:00Z");
    view.operator_name = "Ines";
    view.body = body;
    return view;
}

TEST(RecordKinds, ASeedOfEachComesBackByteForByte)
{
    for (RecordKind const& kind : record_kinds()) {
        std::string const body = seed_of(kind);
        EXPECT_TRUE(record::require_canonical(body).has_value()) << kind.name;
        auto const written = kind.rewritten(body);
        ASSERT_TRUE(written.has_value()) << kind.name << ": " << written.error().message;
        EXPECT_EQ(*written, body) << kind.name;
        JobState state;
        auto const taken = kind.take(state, view_of(kind, body));
        EXPECT_TRUE(taken.has_value()) << kind.name << ": " << (taken ? "" : taken.error().message);
    }
}

TEST(RecordKinds, ABodyThatIsNoneIsAnErrorWithWords)
{
    for (RecordKind const& kind : record_kinds()) {
        auto const written = kind.rewritten("[1,2");
        ASSERT_FALSE(written.has_value()) << kind.name;
        EXPECT_FALSE(written.error().message.empty()) << kind.name;
    }
}

/// What a record leaves in the state, counted; every list of JobState that records fill.
std::size_t entries_of(JobState const& state)
{
    return state.links.size() + state.references.size() + state.checks.size() + state.events.size() +
           state.files.size() + state.notes.size() + state.steps_done.size() + state.setups.size() +
           state.people.size() + state.withdrawals.size() + state.kit.items.size() +
           state.kit.pin_changes.size() + state.kit.inspections.size() + state.kit.limits.size() +
           state.kit.overrides.size() + state.trust_decisions.size() + state.acknowledgements.size() +
           state.handed_over.size() + state.tests.size() + (state.has_settings ? 1U : 0U);
}

TEST(RecordKinds, EachReachesTheStateButTheTwoThatOpenAFile)
{
    for (RecordKind const& kind : record_kinds()) {
        std::string const body = seed_of(kind);
        JobState state;
        take_record(state, view_of(kind, body));
        EXPECT_TRUE(state.remarks.empty()) << kind.name;
        bool const opens = kind.name == record::kind::job_opened || kind.name == record::kind::station_key;
        EXPECT_EQ(entries_of(state) > 0, !opens) << kind.name;
    }
}

TEST(RecordKinds, AnUnknownKindIsCarriedAndNotUsed)
{
    RecordKind later;
    later.name = "of-a-later-program";
    JobState state;
    take_record(state, view_of(later, "{}"));
    EXPECT_TRUE(state.remarks.empty());
    EXPECT_EQ(entries_of(state), 0U);
    EXPECT_EQ(find_record_kind(later.name), nullptr);
}

TEST(RecordKinds, OnlyHandingOverIsLeftOutAtTheEnd)
{
    EXPECT_THAT(kinds_left_out_at_the_end(), ::testing::ElementsAre(record::kind::handed_over));
}

// The manual's table is made by tools/make_record_kinds, which reads the source; here the compiled rows are
// held against it, and against the list of bodies.
TEST(RecordKinds, TheManualNamesEachWithItsSentence)
{
    std::string const manual = text_of("docs/formats/job-file.md");
    std::string const bodies = text_of("docs/formats/record-bodies.md");
    for (RecordKind const& kind : record_kinds()) {
        EXPECT_TRUE(kind.description.ends_with('.')) << kind.name;
        EXPECT_THAT(manual, HasSubstr(fmt::format("| `{}` | {} |", kind.name, kind.description)));
        if (kind.name == record::kind::station_key) continue; // described where the chain is
        EXPECT_THAT(bodies, HasSubstr(fmt::format("| `{}` |", kind.name)));
    }
}

constexpr char const* spare_cord = R"(
[[cord]]
serial = "T-2"
category = "OM4"
pins-near = "unpinned"
pins-far = "unpinned"
pins-exchangeable = "far"
[[pin-tool]]
serial = "tool"
)";

class EveryKind : public ScratchJob
{
  protected:
    void must(Outcome const& done) { ASSERT_TRUE(done.has_value()) << done.error().message; }
    template <class Value>
    void must(Result<Value> const& done)
    {
        ASSERT_TRUE(done.has_value()) << done.error().message;
    }

    void measure()
    {
        open_new(stated_kit);
        schedule("N-1,OM4,50,mpo-12,12,B,flat\n");
        reference(positions(1, 12));
        check(positions(1, 12));
        // Lower than glass can lose: the watch doubts the reference.
        readings(reading_rows("N-1", positions(1, 12), 850, -0.9));
        must(job_->rely_on_reference("R-1", "a second meter agrees", true));
        must(job_->note_event({"power-cycle", "R-1", *parse_instant("2026-03-02T11:00:00Z"), ""}));
        SourceFile const file = job_->state().files.back();
        must(job_->withdraw_import({file.station, file.sequence, "wrong hall", {}, {}}));
    }

    void keep_kit()
    {
        auto const file = kit_from_file({"kit.toml", spare_cord}, job_->state().tables);
        must(file);
        must(job_->register_kit(*file));
        must(job_->limit_kit({}));
        std::string const cord = "T-2";
        PinsChanged change;
        change.item = cord;
        change.to = plant::Pins::pinned;
        change.pins_counted = 1; // one is missing: the register refuses the cord
        must(job_->change_pins(change));
        FaceInspected inspection;
        inspection.seen.item = cord;
        inspection.seen.end = 1;
        must(job_->inspect_face(inspection));
        must(job_->override_item(cord, "only until the spare arrives"));
    }

    void work()
    {
        must(job_->name_person({"Tomasz", Role::technician, {}, {}}));
        Note note;
        note.subject = "link";
        note.name = "N-1";
        note.text = "cleaned";
        must(job_->add_note(note));
        SetupSheet sheet;
        sheet.title = "Set-up 1";
        auto const body = setup_body(sheet);
        must(body);
        auto const chosen = job_->choose_setup(*body);
        must(chosen);
        must(job_->tick_step({*chosen, "mate", "", {}, {}}));
        Acknowledgement seen;
        seen.finding = "bedff371c12941ea";
        seen.reason = "agreed with the owner";
        must(job_->acknowledge(seen));
        HandOver given;
        given.manifest_sha256 = std::string(64, 'a');
        given.made = *parse_instant("2026-03-02T11:30:00Z");
        given.files = {{"summary.pdf", 10, std::string(64, 'b')}};
        must(job_->hand_over(given));
    }
};

// Both interfaces, commands and pages, change a job through these operations alone.
TEST_F(EveryKind, IsWrittenByAnOperationOfTheJobAndRewrittenByteForByte)
{
    measure();
    keep_kit();
    work();
    for (RecordKind const& kind : record_kinds())
        EXPECT_GT(job_->store().count(kind.name).value(), 0) << kind.name << ": nothing writes it";
    int others = 0;
    auto const visited = job_->store().visit({}, [&](record::RecordView const& view) -> Outcome {
        RecordKind const* const kind = find_record_kind(view.kind);
        if (!kind) {
            ++others;
            return {};
        }
        TRY_ASSIGN(std::string const written, kind->rewritten(view.body));
        EXPECT_EQ(written, view.body) << view.kind;
        return {};
    });
    must(visited);
    EXPECT_EQ(others, 0);
}

} // namespace record_kinds_test
} // namespace guidepin::job
