// SPDX-License-Identifier: Apache-2.0
// Requests as they come, asked at the door: who they are, and what their answer carries.
#include "web/door.hpp"

#include <gtest/gtest.h>

#include <map>
#include <set>

namespace guidepin::web {
namespace door_test {

class DoorTest : public ::testing::Test
{
  protected:
    DoorTest()
        : door_(sessions_, settings())
    {
    }

    DoorSettings settings()
    {
        DoorSettings at;
        at.operator_name = "Olga";
        at.port = 8350;
        at.tls = true;
        at.now_ms = [this] { return now_; };
        at.role_of = [this](Session const& session) { return role_of(people_, "Olga", session); };
        at.use_key = [this](std::string const& key) { return keys_.erase(key) > 0; };
        at.reach = [this] { return reach_; };
        return at;
    }

    static Request get(std::string const& path, std::string const& peer = "127.0.0.1")
    {
        Request request;
        request.method = "GET";
        request.path = path;
        request.peer = peer;
        request.headers.emplace("host", "127.0.0.1:8350");
        return request;
    }
    Request with(std::string const& session, Request request = get("/")) const
    {
        request.headers.emplace("cookie", "gp_8350=" + session);
        return request;
    }
    static Request keyed(std::string const& key, std::string const& peer = "127.0.0.1")
    {
        Request request = get("/", peer);
        request.fields.emplace("key", key);
        return request;
    }
    static std::string header(Reply const& reply, std::string_view name, std::string_view part = {})
    {
        for (auto const& [one, value] : reply.headers) {
            if (one == name && value.find(part) != std::string::npos) return value;
        }
        return {};
    }

    std::int64_t now_ = 0;
    std::vector<job::Person> people_;
    std::set<std::string> keys_ = {"good"};
    std::shared_ptr<Reach> reach_ = std::make_shared<Reach>();
    Sessions sessions_;
    Door door_;
};

TEST_F(DoorTest, BeingLocalIsNotEnough)
{
    for (char const* peer : {"127.0.0.1", "::1", "192.0.2.7"}) {
        auto const entered = door_.enter(get("/links", peer));
        EXPECT_TRUE(entered.exchange.session.empty()) << peer;
        EXPECT_TRUE(entered.cookies.empty()) << peer;
        EXPECT_FALSE(entered.exchange.at_machine) << peer;
    }
}

TEST_F(DoorTest, TheKeyOpensOnceAndLeavesTheAddress)
{
    auto const entered = door_.enter(keyed("good"));
    ASSERT_TRUE(entered.reply.has_value());
    Reply reply = *entered.reply;
    door_.finish(entered, reply);
    EXPECT_EQ(reply.status, 303);
    EXPECT_EQ(header(reply, "Location"), "/");
    EXPECT_EQ(header(reply, "Cache-Control"), "no-store");
    std::string const cookie = header(reply, "Set-Cookie", "gp_8350=");
    for (char const* flag : {"; HttpOnly", "; SameSite=Strict", "; Secure", "; Path=/"})
        EXPECT_NE(cookie.find(flag), std::string::npos) << cookie;
    std::string const session = cookie.substr(8, cookie.find(';') - 8);
    auto const inside = door_.enter(with(session));
    EXPECT_EQ(inside.exchange.person, "Olga");
    EXPECT_EQ(inside.exchange.role, job::Role::lead);
    EXPECT_TRUE(inside.exchange.at_machine);
    auto const again = door_.enter(keyed("good"));
    EXPECT_TRUE(again.cookies.empty());
    EXPECT_EQ(header(*again.reply, "Location"), "/pair?key=void");
}

TEST_F(DoorTest, TheKeyIsOfNoUseFromElsewhereOrForAnotherMethodOrPage)
{
    EXPECT_TRUE(door_.enter(keyed("good", "192.0.2.250")).cookies.empty());
    Request head = keyed("good");
    head.method = "HEAD";
    EXPECT_TRUE(door_.enter(head).cookies.empty());
    Request other = keyed("good");
    other.path = "/links";
    EXPECT_TRUE(door_.enter(other).cookies.empty());
    EXPECT_TRUE(door_.enter(keyed("bad")).cookies.empty());
    EXPECT_EQ(keys_.count("good"), 1U) << "and none of that used it up";
    EXPECT_EQ(door_.enter(keyed("good")).cookies.size(), 1U);
}

TEST_F(DoorTest, ARoleHoldsFromTheNextRequestOn)
{
    people_ = {{"Lea", job::Role::lead, {}, {}}};
    std::string const session = sessions_.begin("Lea", false, now_);
    EXPECT_EQ(door_.enter(with(session)).exchange.role, job::Role::lead);
    people_ = {{"Lea", job::Role::reviewer, {}, {}}};
    EXPECT_EQ(door_.enter(with(session)).exchange.role, job::Role::reviewer);
    people_.clear();
    EXPECT_TRUE(door_.enter(with(session)).exchange.session.empty()) << "who left the job is out";
    people_ = {{"Lea", job::Role::lead, {}, {}}};
    EXPECT_TRUE(door_.enter(with(session)).exchange.session.empty()) << "and stays out until paired again";
}

TEST_F(DoorTest, TheSessionOfTheServingMachineStaysALeads)
{
    std::string const own = sessions_.begin("Olga", true, now_);
    std::string const phone = sessions_.begin("Olga", false, now_);
    people_ = {{"Olga", job::Role::reviewer, {}, {}}};
    EXPECT_EQ(door_.enter(with(own)).exchange.role, job::Role::lead);
    EXPECT_EQ(door_.enter(with(phone)).exchange.role, job::Role::reviewer);
}

TEST_F(DoorTest, ADeviceThatKnewAnotherCertificateIsTold)
{
    std::string const old = "AA:" + std::string(92, '0'), present = "BB:" + std::string(92, '0');
    reach_->fingerprint = present;
    std::string const session = sessions_.begin("Olga", true, now_);
    auto const first = door_.enter(with(session));
    EXPECT_TRUE(first.exchange.old_certificate.empty());
    ASSERT_EQ(first.cookies.size(), 1U) << "it learns the present one";
    EXPECT_EQ(first.cookies[0].rfind("gp_certificate_8350=" + present + ";", 0), 0U) << first.cookies[0];
    Request request = with(session);
    request.headers.clear();
    request.headers.emplace("cookie", "gp_8350=" + session + "; gp_certificate_8350=" + old);
    auto const later = door_.enter(request);
    EXPECT_EQ(later.exchange.old_certificate, old);
    EXPECT_TRUE(later.cookies.empty()) << "nothing is taken as seen unasked";
    Reply seen;
    seen.headers.emplace_back("X-Certificate-Seen", "yes");
    door_.finish(later, seen);
    EXPECT_NE(header(seen, "Set-Cookie", "gp_certificate_8350=" + present), "");
    EXPECT_EQ(header(seen, "X-Certificate-Seen"), "");
}

TEST_F(DoorTest, AForgedCertificateCookieIsIgnored)
{
    reach_->fingerprint = "BB:" + std::string(92, '0');
    Request request = get("/pair");
    request.headers.emplace("cookie", "gp_certificate_8350=\"><script>" + std::string(85, 'x'));
    EXPECT_TRUE(door_.enter(request).exchange.old_certificate.empty());
}

TEST_F(DoorTest, AForwardedHeaderChangesNothing)
{
    std::string const session = sessions_.begin("Olga", true, now_);
    for (char const* name : {"x-forwarded-for", "forwarded", "via", "x-real-ip"}) {
        Request request = with(session, get("/links"));
        request.headers.emplace(name, "192.0.2.250");
        EXPECT_EQ(door_.enter(request).exchange.person, "Olga") << name;
        Request stranger = get("/links");
        stranger.headers.emplace(name, "127.0.0.1");
        EXPECT_TRUE(door_.enter(stranger).exchange.session.empty()) << name;
    }
}

} // namespace door_test
} // namespace guidepin::web
