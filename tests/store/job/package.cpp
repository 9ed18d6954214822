// SPDX-License-Identifier: Apache-2.0
// A package over an older one, while its file calls fail, or while the program is killed before each of them:
// the older package is there whole, or the new one is, and the audit accepts it; the next run leaves nothing
// beside.
#include "fault_job.hpp"

#include "job/files/files.hpp"
#include "job/files/writing.hpp"
#include "job/handover/audit.hpp"

#include <algorithm>
#include <cerrno>
#include <fstream>
#include <map>

#include <csignal>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/wait.h>

namespace guidepin::job::faults {

namespace package_test {

namespace fs = std::filesystem;

/// What the watch of the file calls does; it is a plain function, so this stands outside.
struct Watching
{
    int at = 0;     ///< the call at which it happens; 0: never
    int number = 0; ///< errno to fail with; 0: the process is killed there
    bool lasting = false;
    std::optional<FileCall> kind;
    int seen = 0;
    bool struck = false;
};
Watching watching;

int on_call(FileCall call, std::string const&)
{
    if (watching.kind && *watching.kind != call) return 0;
    ++watching.seen;
    if (watching.at == 0 || watching.seen < watching.at || (watching.seen > watching.at && !watching.lasting))
        return 0;
    watching.struck = true;
    if (watching.number == 0) ::raise(SIGKILL);
    return watching.number;
}

void watch(Watching const& what)
{
    watching = what;
    watch_files(&on_call);
}

std::map<std::string, std::string> contents(fs::path const& folder)
{
    std::map<std::string, std::string> files;
    for (auto const& entry : fs::directory_iterator(folder)) {
        auto bytes = read_file(entry.path().string());
        files[entry.path().filename().string()] = bytes ? *bytes : "unreadable";
    }
    return files;
}

class PackageFaults : public ::testing::Test
{
  protected:
    void SetUp() override
    {
        place_.make_base();
        fs::create_directories(parent());
        auto const written = write(1);
        ASSERT_TRUE(written) << written.error().message;
        older_ = contents(package());
        ASSERT_GT(older_.size(), 10U);
    }
    void TearDown() override { watch_files(nullptr); }

    fs::path parent() const { return place_.folder() / "out"; }
    std::string package() const { return (parent() / "package").string(); }

    /// The package made at minute `minute`, so that each differs from the one before.
    Result<Package> write(int minute, std::string const& folder = {}, bool draft = true)
    {
        TRY_ASSIGN(auto job, Job::open(place_.base(), place_.actor, !draft));
        PackageOptions options;
        options.folder = folder.empty() ? package() : folder;
        options.made = Instant{parse_instant("2026-03-02T12:00:00Z")->ms + minute * 60'000, 0};
        options.links = {"N-1"};
        options.draft = draft;
        return write_package(job, place_.actor, options);
    }

    /// Names in the parent folder besides the package.
    std::vector<std::string> beside() const
    {
        std::vector<std::string> names;
        for (auto const& entry : fs::directory_iterator(parent())) {
            if (entry.path().filename() != "package") names.push_back(entry.path().filename().string());
        }
        return names;
    }

    /// Older or new, whole: every file is the one that the manifest names, and the audit refutes nothing.
    void expect_whole(bool has_to_be_new = false)
    {
        ASSERT_TRUE(fs::exists(package())) << "no package is there";
        auto const now = contents(package());
        if (now == older_) {
            EXPECT_FALSE(has_to_be_new) << "the new package was acknowledged and the older one is there";
            return;
        }
        auto const report = audit(package(), place_.actor);
        ASSERT_TRUE(report) << report.error().message;
        for (AuditFinding const& finding : report->findings) {
            EXPECT_NE(finding.weight, Weight::refutes) << finding.text;
            EXPECT_NE(finding.rule, "file-unlisted") << finding.text;
        }
        EXPECT_EQ(now.size(), older_.size());
    }

    FaultJob place_;
    std::map<std::string, std::string> older_;
};

TEST_F(PackageFaults, TheOlderPackageOrTheNewOneIsWholeWhateverCallFails)
{
    std::map<int, int> faults;
    int minute = 1;
    for (int const number : {ENOSPC, EIO}) {
        for (bool const lasting : {false, true}) {
            int at = 1;
            for (;; at += fault_step()) {
                SCOPED_TRACE(fmt::format("call {} fails with {}{}", at, std::strerror(number),
                                         lasting ? ", and all after it" : ""));
                watch({at, number, lasting, {}, 0, false});
                // Each package is made at a minute of its own: two of the same minute have the same bytes.
                auto const written = write(++minute);
                bool const struck = watching.struck;
                watch_files(nullptr);
                expect_whole(written.has_value());
                if (!written) {
                    EXPECT_EQ(exit_code(written.error().code), 4) << written.error().message;
                }
                if (HasFailure()) return;
                ++faults[number];
                if (!struck) break;
                older_ = contents(package());
            }
            EXPECT_GT(at, 20) << "too few calls to prove anything";
        }
    }
    EXPECT_TRUE(beside().empty()) << "left over: " << beside().front();
    fmt::print("package: {} faults of a full disk, {} of a disk that fails\n", faults[ENOSPC], faults[EIO]);
}

TEST_F(PackageFaults, KilledBeforeAnyCallTheOlderPackageOrTheNewOneIsWhole)
{
    int killed = 0;
    int at = 1;
    for (;; at += fault_step()) {
        SCOPED_TRACE(fmt::format("killed before call {}", at));
        pid_t const child = ::fork();
        ASSERT_GE(child, 0);
        if (child == 0) {
            watch({at, 0, false, {}, 0, false});
            auto const written = write(at + 1);
            ::_exit(written ? 0 : 1);
        }
        int status = 0;
        ASSERT_EQ(::waitpid(child, &status, 0), child);
        expect_whole();
        if (HasFailure()) return;
        if (WIFEXITED(status)) {
            ASSERT_EQ(WEXITSTATUS(status), 0);
            break;
        }
        ASSERT_EQ(WTERMSIG(status), SIGKILL);
        ++killed;
    }
    EXPECT_GT(killed * fault_step(), 20);
    EXPECT_TRUE(beside().empty()) << "left over after the next run: " << beside().front();
    fmt::print("package: killed before each of {} calls\n", killed);
}

TEST_F(PackageFaults, WithoutAnExchangeTheOlderPackageIsWholeAtItsPlaceOrBesideIt)
{
    // The exchange is not known to the file system; then the move aside works and the move into place does
    // not.
    watch({1, EINVAL, true, FileCall::exchange, 0, false});
    auto const written = write(2);
    ASSERT_TRUE(written) << written.error().message;
    EXPECT_NE(contents(package()), older_);
    expect_whole(true);
    EXPECT_TRUE(beside().empty());
    // Killed between the two moves: nothing at the place, the older one whole beside it, and put back by the
    // next.
    auto const whole = contents(package());
    fs::rename(package(), parent() / ".package.older");
    watch({1, ENOSPC, false, FileCall::make, 0, false});
    EXPECT_FALSE(write(3));
    watch_files(nullptr);
    ASSERT_TRUE(fs::exists(package()));
    EXPECT_EQ(contents(package()), whole);
    EXPECT_TRUE(beside().empty());
}

TEST_F(PackageFaults, WhatDoesNotBelongToAPackageIsNotLost)
{
    std::ofstream(package() + "/letter.txt") << "mine";
    auto const refused = write(2);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.error().code, Errc::conflict);
    EXPECT_NE(refused.error().message.find("letter.txt"), std::string::npos) << refused.error().message;
    EXPECT_TRUE(fs::exists(package() + "/letter.txt"));
    std::string const other = (parent() / "photos").string();
    fs::create_directories(other + "/album");
    auto const no_package = write(2, other);
    ASSERT_FALSE(no_package);
    EXPECT_NE(no_package.error().message.find("album/"), std::string::npos) << no_package.error().message;
    EXPECT_TRUE(fs::exists(other + "/album"));
    // A file that comes while the package is made is not lost either.
    fs::remove(package() + "/letter.txt");
    watch_files([](FileCall call, std::string const& path) {
        if (call == FileCall::sync && path.ends_with("manifest.json")) {
            auto const late = fs::path(path).parent_path() / "late.txt";
            std::ofstream{late} << "mine";
        }
        return 0;
    });
    EXPECT_FALSE(write(3));
    watch_files(nullptr);
    EXPECT_TRUE(fs::exists(package() + "/late.txt"));
}

TEST_F(PackageFaults, APlaceIsWhatItsPathLeadsTo)
{
    fs::create_directories(parent() / "empty");
    fs::create_directories(parent() / "far");
    fs::create_directory_symlink(parent() / "far", parent() / "link");
    fs::create_symlink(parent() / "nowhere", parent() / "dangling");
    std::ofstream((parent() / "file").string()) << "mine";
    for (char const* good : {"empty", "fresh/", "missing/parent/deep", "link", "link/"}) {
        auto const written = write(2, (parent() / good).string());
        EXPECT_TRUE(written) << good << ": " << written.error().message;
        EXPECT_TRUE(fs::exists(parent() / good / "manifest.json")) << good;
    }
    EXPECT_TRUE(fs::is_symlink(parent() / "link")) << "the link stays";
    for (char const* bad : {"dangling", "file", "file/under"}) {
        auto const written = write(2, (parent() / bad).string());
        EXPECT_FALSE(written) << bad;
    }
    fs::path const before = fs::current_path();
    fs::create_directories(parent() / "here/deeper");
    fs::current_path(parent() / "here");
    auto const dot = write(2, ".");
    auto const relative = write(2, "inside");
    fs::current_path(parent() / "here/deeper");
    auto const above = write(2, "..");
    fs::current_path(before);
    ASSERT_FALSE(dot);
    EXPECT_NE(dot.error().message.find("./package"), std::string::npos) << dot.error().message;
    EXPECT_FALSE(above);
    EXPECT_TRUE(relative);
    EXPECT_TRUE(fs::exists(parent() / "here/inside/manifest.json"));
}

TEST_F(PackageFaults, WhoLivesKeepsWhatHeWritesBesideThePlace)
{
    fs::path const dead = parent() / ".package.part-1-1";
    fs::path const alive = parent() / ".package.part-1-2";
    for (auto const& folder : {dead, alive}) {
        fs::create_directories(folder);
        std::ofstream(folder / "links.csv") << "half";
    }
    int const lock = ::open(alive.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    ASSERT_EQ(::flock(lock, LOCK_EX | LOCK_NB), 0);
    ASSERT_TRUE(write(2));
    EXPECT_FALSE(fs::exists(dead));
    EXPECT_TRUE(fs::exists(alive));
    ::close(lock);
    ASSERT_TRUE(write(3));
    EXPECT_TRUE(beside().empty());
}

TEST_F(PackageFaults, WhoMayLookIntoTheOlderPackageMayLookIntoTheNew)
{
    fs::permissions(package(), fs::perms::owner_all);
    ASSERT_TRUE(write(2));
    EXPECT_EQ(fs::status(package()).permissions(), fs::perms::owner_all);
}

TEST_F(PackageFaults, HandedOverIsRecordedOnlyWhenThePackageIsInItsPlace)
{
    auto const handed = [&] {
        auto job = Job::open(place_.base(), place_.actor, false);
        return *job->store().count("handed-over");
    };
    watch({1, EIO, true, FileCall::exchange, 0, false});
    EXPECT_FALSE(write(2, {}, false));
    watch_files(nullptr);
    EXPECT_EQ(handed(), 0);
    EXPECT_EQ(contents(package()), older_);
    auto const written = write(2, {}, false);
    ASSERT_TRUE(written) << written.error().message;
    EXPECT_EQ(handed(), 1);
}

TEST_F(PackageFaults, ASingleFileIsTheOlderOneOrTheNewOneWhateverCallFails)
{
    std::string const path = (parent() / "card.pdf").string();
    ASSERT_TRUE(write_file(path, "older"));
    for (bool const lasting : {false, true}) {
        for (int at = 1;; ++at) {
            watch({at, ENOSPC, lasting, {}, 0, false});
            auto const written = write_file(path, "new");
            bool const struck = watching.struck;
            watch_files(nullptr);
            std::string const now = *read_file(path);
            EXPECT_TRUE(now == "older" || now == "new") << now;
            EXPECT_TRUE(!written || now == "new");
            if (!written) {
                EXPECT_EQ(exit_code(written.error().code), 4) << written.error().message;
            }
            if (!struck) break;
            ASSERT_TRUE(write_file(path, "older"));
        }
    }
    EXPECT_EQ(beside(), std::vector<std::string>{"card.pdf"});
    EXPECT_FALSE(write_file("/dev/null", "new")) << "a device is never replaced";
    EXPECT_FALSE(write_file(parent().string(), "new"));
}

} // namespace package_test

} // namespace guidepin::job::faults
