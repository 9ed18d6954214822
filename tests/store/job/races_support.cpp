// SPDX-License-Identifier: Apache-2.0
// Starts the programs of a race at the same moment and judges what they leave. See races.hpp.
#include "races.hpp"
#include "record/derived_digest.hpp"

#include "job/assess/derived_change.hpp"
#include "record/kind.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <iostream>
#include <numeric>
#include <random>
#include <thread>

#include <fmt/format.h>
#include <sched.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include "fixed_clock.hpp"
#include "scratch_folder.hpp"

namespace guidepin::job::races {

namespace {

constexpr std::size_t most = 3;         ///< programs in a race
constexpr std::size_t room = 1U << 18U; ///< bytes of a report
constexpr auto hang = std::chrono::minutes(3);
constexpr std::int64_t at_noon = 1'772'452'800'000; // 2026-03-02T12:00:00Z
constexpr char const* names[most] = {"Ada", "Ben", "Cleo"};

/// What a program reports, in memory that all processes share.
struct Report
{
    Done::How how{};
    Errc code{};
    char words[4096];
    char state[room]; ///< of its job after refresh(), or what went wrong
};

/// One way of keeping time and keys: `clock` moves the program's clock, `own_key` gives it a station of its
/// own.
struct Terms
{
    std::array<std::int64_t, most> clock_ms{};
    bool own_keys = false;
};

struct Shared
{
    std::atomic<int> step{0};
    std::atomic<int> reached[most];
    std::atomic<int> ready{0}; ///< programs that spin at the start
    char path[512];
    Terms terms;
    int wait_us[most];
    Report reports[most];
};

void put(char* to, std::size_t size, std::string const& text)
{
    std::size_t const length = std::min(text.size(), size - 1);
    std::memcpy(to, text.data(), length);
    to[length] = 0;
}

std::string digest_of(record::DerivedTables const& tables)
{
    auto const digest = record::DerivedDigest::of(tables);
    return digest ? digest->hex() : digest.error().message;
}

/// A state as text. `whole`: with the places of the records in their chains, which differ between orders.
class Dump
{
  public:
    explicit Dump(bool whole)
        : whole_(whole)
    {
    }

    std::string of(JobState const& state)
    {
        line("settings {}", settings_to_json(state.settings));
        for (auto const& link : state.links) body("link", schedule_body({link}, {}));
        for (auto const& entry : state.references) {
            body("reference", reference_body(entry));
            place(entry.station, entry.sequence);
        }
        for (auto const& [id, index] : state.reference_index) line("index {} {}", id, index);
        for (auto const& entry : state.checks) {
            body("check", cord_check_body(entry));
            place(entry.station, entry.sequence);
        }
        for (auto const& entry : state.events) body("event", reference_event_body(entry));
        for (auto const& file : state.files) {
            line("file {} {} {} {} {} {}", file.name, file.layout, file.sha256, file.recorded.ms, file.person,
                 file.withdrawn);
            place(file.station, file.sequence);
        }
        entries(state);
        kit(state);
        for (auto const& test : state.tests) {
            line("test {} {} {}", test.link, test.recorded.ms, test.rows);
            place(test.station, test.sequence);
            if (whole_) line("  hash {}", test.hash);
            for (std::uint32_t row = test.first_row; row < test.first_row + test.rows; ++row)
                reading(state.readings, row);
        }
        return text_;
    }

  private:
    template <class... Values>
    void line(fmt::format_string<Values...> format, Values&&... values)
    {
        text_ += fmt::format(format, std::forward<Values>(values)...) + "\n";
    }
    void body(char const* what, Result<std::string> const& text)
    {
        line("{} {}", what, text ? *text : text.error().message);
    }
    void place(std::string const& station, std::int64_t sequence)
    {
        if (whole_) line("  at {}:{}", station, sequence);
    }
    void by(Instant const& at, std::string const& person) { line("  {} {}", at.ms, person); }

    void entries(JobState const& state)
    {
        for (auto const& note : state.notes) {
            body("note", note_body(note));
            by(note.at, note.person);
            if (whole_) line("  hash {}", note.hash);
        }
        for (auto const& step : state.steps_done) {
            body("step", step_body(step));
            by(step.at, step.person);
        }
        for (auto const& setup : state.setups) {
            line("setup {}", setup.body);
            by(setup.at, setup.person);
        }
        for (auto const& person : state.people) {
            body("person", person_body(person));
            by(person.at, person.named_by);
        }
        for (auto const& withdrawal : state.withdrawals) {
            // It names a record by its place.
            line("withdrawal {}", withdrawal.reason);
            place(withdrawal.station, withdrawal.sequence);
            by(withdrawal.at, withdrawal.person);
        }
        for (auto const& decision : state.trust_decisions) {
            body("trust", trust_decision_body(decision));
            by(decision.at, decision.person);
        }
        for (auto const& seen : state.acknowledgements) {
            body("acknowledgement", acknowledgement_body(seen));
            by(seen.at, seen.person);
        }
        for (auto const& given : state.handed_over) {
            line("handed over {} {}", given.files.size(), given.made.ms);
            if (whole_) line("  {}", given.manifest_sha256);
            by(given.at, given.person);
            place(given.station, given.sequence);
        }
    }

    void kit(JobState const& state)
    {
        for (auto const& item : state.kit.items) {
            body("item", kit_item_body(item));
            by(item.at, item.person);
        }
        for (auto const& change : state.kit.pin_changes) {
            body("pins", pin_change_body(change));
            by(change.at, change.person);
        }
        for (auto const& inspection : state.kit.inspections) body("inspection", inspection_body(inspection));
        for (auto const& limits : state.kit.limits) body("limits", kit_limits_body(limits.limits));
        for (auto const& decision : state.kit.overrides) {
            body("override", kit_override_body(decision));
            by(decision.at, decision.person);
        }
        for (auto const& each : state.instruments) line("instrument {} {}", each.id, each.calibration_due);
        for (auto const& each : state.cords) line("cord {} {}", each.id, static_cast<int>(each.pins_far));
    }

    void reading(verdict::ReadingColumns const& all, std::uint32_t row)
    {
        auto const word = [](verdict::Dictionary const& words, std::uint32_t index) {
            return index == verdict::Dictionary::missing ? std::string("-") : std::string(words.text(index));
        };
        line("  {} {} {} {} {} {:.4f} {} {} {}", word(all.links, all.link[row]),
             static_cast<int>(all.launch_end[row]), all.position[row], all.far_position[row],
             all.wavelength_nm[row], all.value[row], all.taken_ms[row],
             word(all.references, all.reference[row]), word(all.operators, all.operator_name[row]));
    }

    bool whole_;
    std::string text_;
};

/// All that a program knows of the job, the verdicts included.
std::string known(Job& job)
{
    auto const assessment = job.assessment();
    if (!assessment) return "no assessment: " + assessment.error().message;
    return fmt::format("version {}\nderived {}\n{}", job.version(),
                       digest_of(derive(job.state(), **assessment)), Dump(true).of(job.state()));
}

/// How one order, or one race, ended.
struct Ending
{
    std::vector<Done> answers;
    std::string state;

    bool like(Ending const& other) const
    {
        if (state != other.state) return false;
        for (std::size_t i = 0; i < answers.size(); ++i) {
            Done const &a = answers[i], &b = other.answers[i];
            bool const words = a.how == Done::How::refused ? a.code == b.code : a.words == b.words;
            if (a.how != b.how || !words) return false;
        }
        return true;
    }
    /// "did, refused (conflict)": as it is counted and printed.
    std::string pattern() const
    {
        static constexpr char const* words[] = {"did", "nothing", "looked", "refused"};
        std::string text;
        for (Done const& answer : answers) {
            if (!text.empty()) text += ", ";
            text += words[static_cast<int>(answer.how)];
            if (answer.how == Done::How::refused)
                text += fmt::format(" (code {})", static_cast<int>(answer.code));
        }
        return text;
    }
    std::string all() const
    {
        std::string text = pattern() + "\n";
        for (Done const& answer : answers) text += "  said: " + answer.words + "\n";
        return text;
    }
};

/// The first lines that are not alike.
std::string difference(std::string const& one, std::string const& other)
{
    std::size_t at = 0;
    while (at < one.size() && at < other.size() && one[at] == other[at]) ++at;
    if (at == one.size() && at == other.size()) return "none";
    std::size_t const from = at == 0 ? 0 : one.rfind('\n', at - 1) + 1;
    auto const rest = [&](std::string const& text) {
        return from >= text.size() ? std::string("(end)") : text.substr(from, 240);
    };
    return fmt::format("here\n{}\nthere\n{}", rest(one), rest(other));
}

class Arena
{
  public:
    explicit Arena(Race const& race)
        : race_(race)
        , seed_(seed())
        , random_(seed_)
    {
        void* const place =
            ::mmap(nullptr, sizeof(Shared), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
        if (place == MAP_FAILED) std::abort();
        shared_ = new (place) Shared;
    }
    ~Arena()
    {
        shared_->step = -1;
        for (pid_t const program : programs_) ::waitpid(program, nullptr, 0);
        ::munmap(shared_, sizeof(Shared));
    }
    Arena(Arena const&) = delete;
    Arena& operator=(Arena const&) = delete;

    void fight()
    {
        // The programs begin before this process opens any file.
        for (std::size_t i = 0; i < race_.acts.size(); ++i) {
            pid_t const program = ::fork();
            if (program == 0) live(i);
            programs_.push_back(program);
        }
        make_template();
        std::vector<Terms> const terms = all_terms();
        for (Terms const& each : terms) orders_.push_back(serial(each));
        if (::testing::Test::HasFatalFailure()) return;
        for (int round = 0; round < rounds() && !given_up_; ++round) {
            std::size_t const which = static_cast<std::size_t>(round) % terms.size();
            one(round, terms[which], orders_[which]);
            if (failures_ >= 3) break;
        }
        std::string text;
        for (auto const& [pattern, times] : patterns_) text += fmt::format("; {} times {}", times, pattern);
        std::cout << fmt::format("{}: {} races, seed {}{}; {} failed\n", race_.name, raced_, seed_, text,
                                 failures_);
    }

  private:
    static std::uint64_t seed()
    {
        char const* const given = ::getenv("GUIDEPIN_RACE_SEED");
        return given ? std::strtoull(given, nullptr, 10) : std::random_device{}();
    }
    /// GUIDEPIN_RACES multiplies the rounds, in percent.
    int rounds() const
    {
        char const* const given = ::getenv("GUIDEPIN_RACES");
        return given ? std::max(1, race_.rounds * std::atoi(given) / 100) : race_.rounds;
    }
    std::string file(std::string const& name) const { return folder_.file(name); }
    Actor actor(std::size_t program, Terms const& terms, FixedClock& clock) const
    {
        clock = FixedClock{at_noon + 1000 + terms.clock_ms[program]};
        Actor actor;
        actor.name = names[program];
        actor.key_path = file(terms.own_keys ? fmt::format("station-{}.key", program) : "station.key");
        actor.clock = &clock;
        actor.threads = 1;
        return actor;
    }
    std::vector<Terms> all_terms() const
    {
        if (race_.one_chain) return {Terms{}};
        return {{{0, 0, 0}, false}, {{0, 2, 1}, true},  {{2, 0, 1}, false},
                {{0, 0, 0}, true},  {{0, 2, 1}, false}, {{2, 0, 1}, true}};
    }

    void make_template();
    std::vector<Ending> serial(Terms const& terms);
    void one(int round, Terms const& terms, std::vector<Ending> const& orders);
    std::string judged(std::vector<Ending> const& orders);
    std::string true_answers(record::Store const& store, std::vector<Done> const& answers) const;
    void fresh_copy(std::string const& path) const;
    bool step(int number);
    [[noreturn]] void live(std::size_t program);
    void take_part(std::size_t program, int first_step);
    void wait_for(int number) const;

    Race const& race_;
    std::uint64_t seed_;
    std::mt19937_64 random_;
    // A race needs no disk, and in memory there is time for more of them.
    support::ScratchFolder folder_{support::ScratchFolder::Place::memory};
    Shared* shared_ = nullptr;
    std::vector<pid_t> programs_;
    std::vector<std::vector<Ending>> orders_;
    std::map<std::string, int> patterns_;
    int raced_ = 0, failures_ = 0;
    bool given_up_ = false;
};

void Arena::make_template()
{
    FixedClock clock{at_noon};
    Actor actor;
    actor.name = "Ines";
    actor.key_path = file("station.key");
    actor.clock = &clock;
    actor.threads = 1;
    auto const settings = settings_from_sheet({"sheet", R"([rules]
wavelengths-multimode = [850]
require-length = false
[[instrument]]
id = "S"
role = "source"
calibration-due = 2026-11-10
[[instrument]]
id = "M"
role = "meter"
calibration-due = 2026-11-10
[[cord]]
id = "L"
role = "launch"
[[cord]]
id = "T"
role = "tail"
)"});
    ASSERT_TRUE(settings.has_value()) << settings.error().message;
    auto const made = Job::create(file("template"), *settings, actor);
    ASSERT_TRUE(made.has_value()) << made.error().message;
    auto job = Job::open(file("template"), actor, true);
    ASSERT_TRUE(job.has_value()) << job.error().message;
    auto const scheduled = job->import_schedule(
        "schedule.csv",
        schedule_file("N-1,OM4,50,mpo-12,12,B\nN-2,OM4,50,mpo-12,12,B\nN-3,OM4,50,mpo-12,12,B\n"), {});
    ASSERT_TRUE(scheduled.has_value()) << scheduled.error().message;
    ASSERT_EQ(take_reference(*job, reference_file("R-1")).words, "R-1");
    ASSERT_EQ(take_check(*job, check_file("C-1", "R-1", "08:10")).words, "C-1");
    if (race_.prepare) race_.prepare(*job);
}

void Arena::fresh_copy(std::string const& path) const
{
    for (char const* ending : {"", "-wal", "-shm", "-holder"}) std::filesystem::remove(path + ending);
    std::filesystem::copy_file(file("template"), path);
    std::error_code code;
    std::filesystem::remove_all(path + "-package", code);
}

/// The same acts one after the other, in every order.
std::vector<Ending> Arena::serial(Terms const& terms)
{
    std::vector<Ending> endings;
    std::vector<std::size_t> order(race_.acts.size());
    std::iota(order.begin(), order.end(), 0U);
    std::string const path = file("race");
    do {
        fresh_copy(path);
        Ending ending;
        ending.answers.resize(order.size());
        for (std::size_t const program : order) {
            FixedClock clock{0};
            Actor const who = actor(program, terms, clock);
            auto job = Job::open(path, who, true);
            EXPECT_TRUE(job.has_value()) << job.error().message;
            if (!job) return endings;
            ending.answers[program] = race_.acts[program](*job, who)();
        }
        FixedClock clock{0};
        Actor const who = actor(0, terms, clock);
        auto job = Job::open(path, who, false);
        EXPECT_TRUE(job.has_value()) << race_.name << ": " << job.error().message;
        if (!job) return endings;
        ending.state = Dump(false).of(job->state());
        if (race_.judge) {
            std::string const complaint = race_.judge(ending.answers, job->state());
            EXPECT_EQ(complaint, "") << race_.name << ", one after the other: " << ending.all();
        }
        endings.push_back(std::move(ending));
    } while (std::next_permutation(order.begin(), order.end()));
    return endings;
}

/// Lets the programs go on to this step and waits until all are there. False: one of them has ended or hangs.
bool Arena::step(int number)
{
    shared_->step = number;
    auto const late = std::chrono::steady_clock::now() + hang;
    for (std::size_t i = 0; i < programs_.size(); ++i) {
        while (shared_->reached[i] < number) {
            int status = 0;
            bool const ended = ::waitpid(programs_[i], &status, WNOHANG) != 0;
            if (ended || std::chrono::steady_clock::now() > late) {
                ADD_FAILURE() << race_.name << ", seed " << seed_ << ", race " << raced_
                              << ": the program of " << names[i]
                              << (ended ? " ended, status " : " hangs, status ") << status;
                given_up_ = true;
                return false;
            }
            ::usleep(100);
        }
    }
    return true;
}

void Arena::one(int round, Terms const& terms, std::vector<Ending> const& orders)
{
    fresh_copy(file("race"));
    put(shared_->path, sizeof shared_->path, file("race"));
    shared_->terms = terms;
    shared_->ready = 0;
    // Half of the races start as close together as they can; in the others one is a little later.
    for (std::size_t i = 0; i < race_.acts.size(); ++i)
        shared_->wait_us[i] = round % 2 == 0 ? 0 : static_cast<int>(random_() % 20000);
    for (int part = 1; part <= 3; ++part) {
        if (!step(3 * round + part)) return;
    }
    ++raced_;
    std::string const complaint = judged(orders);
    if (complaint.empty()) return;
    ++failures_;
    ADD_FAILURE() << race_.name << ", seed " << seed_ << ", race " << round << " (clocks "
                  << terms.clock_ms[0] << ", " << terms.clock_ms[1] << " ms, "
                  << (terms.own_keys ? "a station each" : "one station") << "):\n"
                  << complaint;
}

/// There are records of a person exactly when that person's program said so.
std::string Arena::true_answers(record::Store const& store, std::vector<Done> const& answers) const
{
    std::map<std::string, int, std::less<>> kept;
    record::RecordQuery every;
    auto const visited = store.visit(every, [&](record::RecordView const& view) -> Outcome {
        if (view.kind != record::kind::station_key) ++kept[std::string(view.operator_name)];
        return {};
    });
    if (!visited) return visited.error().message;
    for (std::size_t i = 0; i < answers.size(); ++i) {
        bool const said = answers[i].how == Done::How::did;
        bool const is_there = kept[names[i]] > 0;
        if (said && !is_there)
            return fmt::format("{}'s program said that it is done; no record is there", names[i]);
        if (!said && is_there)
            return fmt::format("{}'s program said that it changed nothing; {} records are there", names[i],
                               kept[names[i]]);
        if (answers[i].how == Done::How::refused && answers[i].words.empty())
            return "A refusal without words";
    }
    return {};
}

std::string Arena::judged(std::vector<Ending> const& orders)
{
    Ending ending;
    for (std::size_t i = 0; i < race_.acts.size(); ++i) {
        Report const& report = shared_->reports[i];
        ending.answers.push_back({report.how, report.code, report.words});
    }
    ++patterns_[ending.pattern()];
    std::string const path = file("race"), said = ending.all();
    std::string basis, before;
    {
        auto const store =
            record::open_sqlite(path, {{"0.1.0", "facts"}, record::OpenOptions::Access::read, nullptr, 5000});
        if (!store) return said + store.error().message;
        auto const report = record::check(**store);
        if (!report) return said + report.error().message;
        if (report->first) return said + report->first->text();
        if (auto const whole = (*store)->verify_container(); !whole) return said + whole.error().message;
        if (auto const words = true_answers(**store, ending.answers); !words.empty()) return said + words;
        basis = (*store)->derived_basis().value();
        before = digest_of((*store)->derived_tables().value());
        if (basis != record::chains_digest(**store).value())
            return said + "the derived rows are not those of the latest records";
    }
    FixedClock clock{0};
    Actor const who = actor(0, {}, clock);
    auto job = Job::open(path, who, true);
    if (!job) return said + "the job does not open: " + job.error().message;
    std::string const truth = known(*job);
    for (std::size_t i = 0; i < race_.acts.size(); ++i) {
        if (truth != shared_->reports[i].state)
            return fmt::format("{}what {}'s program knows after refresh() is not what the file says: {}",
                               said, names[i], difference(shared_->reports[i].state, truth));
    }
    auto const same = job->rebuild();
    if (!same) return said + same.error().message;
    if (!*same || digest_of(job->store().derived_tables().value()) != before)
        return said + "a rebuild gives other derived rows";
    if (race_.judge) {
        if (auto const words = race_.judge(ending.answers, job->state()); !words.empty()) return said + words;
    }
    ending.state = Dump(false).of(job->state());
    if (std::any_of(orders.begin(), orders.end(), [&](Ending const& order) { return order.like(ending); }))
        return {};
    std::string text = said + "no order of the acts ends like this:\n";
    for (Ending const& order : orders)
        text += order.all() + "  state: " + difference(ending.state, order.state) + "\n";
    return text;
}

void Arena::wait_for(int number) const
{
    while (shared_->step < number) {
        if (shared_->step < 0) ::_exit(0);
        if (::getppid() == 1) ::_exit(1);
        ::usleep(50);
    }
}

/// A program of the race: opens the job, waits for the others, acts, and reports what it then knows.
void Arena::take_part(std::size_t program, int first_step)
{
    Report& report = shared_->reports[program];
    FixedClock clock{0};
    Actor const who = actor(program, shared_->terms, clock);
    auto job = Job::open(shared_->path, who, true);
    if (!job) {
        std::cerr << job.error().message << "\n";
        ::_exit(3);
    }
    Run const one_run = race_.acts[program](*job, who);
    shared_->reached[program] = first_step;
    wait_for(first_step + 1);
    // All of them are here, awake: now.
    ++shared_->ready;
    while (shared_->ready < static_cast<int>(race_.acts.size())) ::sched_yield();
    if (int const wait = shared_->wait_us[program]; wait > 0) ::usleep(static_cast<useconds_t>(wait));
    Done const answer = one_run();
    report.how = answer.how;
    report.code = answer.code;
    put(report.words, sizeof report.words, answer.words);
    shared_->reached[program] = first_step + 1;
    wait_for(first_step + 2);
    auto const fresh = job->refresh();
    std::string const state = fresh ? known(*job) : "refresh: " + fresh.error().message;
    if (state.size() >= room) ::_exit(4);
    put(report.state, room, state);
}

void Arena::live(std::size_t program)
{
    for (int first_step = 1;; first_step += 3) {
        wait_for(first_step);
        take_part(program, first_step); // the job is closed at its end
        shared_->reached[program] = first_step + 2;
    }
}

} // namespace

void run(Race const& race)
{
    ASSERT_LE(race.acts.size(), most);
    Arena(race).fight();
}

std::string schedule_file(std::string const& lines)
{
    return "link,category,length_m,family,fibres,trunk_type\n" + lines;
}

std::string readings_file(std::string const& link, std::string const& at, double loss,
                          std::string const& reference)
{
    std::string text =
        "link,launch_end,position,far_position,wavelength_nm,attenuation_db,taken_at,reference\n";
    // Fibres are not alike: an audit takes equal readings of two links for copies.
    unsigned chance = 17;
    for (char const letter : link) chance = chance * 31 + static_cast<unsigned char>(letter);
    for (int p = 1; p <= 12; ++p) {
        chance = chance * 1103515245 + 12345;
        double const more = static_cast<double>(chance >> 16U & 0xFFU) / 1500;
        text += fmt::format("{},a,{},{},850,{:.2f},2026-03-02T{}:00Z,{}\n", link, p, 13 - p, loss + more, at,
                            reference);
    }
    return text;
}

std::string powers_file(std::string const& link, std::string const& at, std::string const& reference)
{
    std::string text = "link,launch_end,position,far_position,wavelength_nm,power_dbm,taken_at,reference\n";
    for (int p = 1; p <= 12; ++p)
        text += fmt::format("{},a,{},{},850,-20.4,2026-03-02T{}:00Z,{}\n", link, p, 13 - p, at, reference);
    return text;
}

std::string reference_file(std::string const& id, double power)
{
    std::string text = "reference,position,wavelength_nm,power_dbm,taken_at\n";
    for (int p = 1; p <= 12; ++p)
        text += fmt::format("{},{},850,{:.2f},2026-03-02T08:00:00Z\n", id, p, power);
    return text;
}

std::string check_file(std::string const& id, std::string const& reference, std::string const& at)
{
    std::string text = "check,reference,position,far_position,wavelength_nm,attenuation_db,taken_at\n";
    for (int p = 1; p <= 12; ++p)
        text += fmt::format("{},{},{},{},850,0.10,2026-03-02T{}:00Z\n", id, reference, p, p, at);
    return text;
}

Done take_readings(Job& job, std::string const& file, bool again)
{
    ReadingsOptions how;
    how.again = again;
    auto const taken = job.import_readings("readings.csv", file, {}, how);
    if (!taken) return refused(taken);
    return {Done::How::did,
            {},
            fmt::format("{} rows, {} links, {} new, {} retested, {} unknown, {} held, {} warnings",
                        taken->rows, taken->links, taken->new_links, taken->retested,
                        taken->unknown_links.size(), taken->held, taken->warnings.size())};
}

namespace {

template <class Outcome>
Done of_ids(Result<Outcome> const& taken)
{
    if (!taken) return refused(taken);
    std::string ids;
    for (auto const& id : taken->ids) ids += (ids.empty() ? "" : ", ") + id.text();
    return {taken->ids.empty() ? Done::How::nothing : Done::How::did, {}, ids};
}

} // namespace

Done take_reference(Job& job, std::string const& file)
{
    ReferenceOptions how;
    how.kit = {"S", "M", "L", "T", ""};
    return of_ids(job.take_reference("reference.csv", file, {}, how));
}

Done take_check(Job& job, std::string const& file)
{
    return of_ids(job.take_cord_check("check.csv", file, {}, verdict::ReferenceId(), false));
}

std::size_t count(std::vector<Done> const& answers, Done::How how)
{
    return static_cast<std::size_t>(
        std::count_if(answers.begin(), answers.end(), [&](Done const& answer) { return answer.how == how; }));
}

} // namespace guidepin::job::races
