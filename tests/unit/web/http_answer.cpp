// SPDX-License-Identifier: Apache-2.0
#include "web/http_answer.hpp"

#include <gtest/gtest.h>

namespace guidepin::web {
namespace http_answer_test {

Request asked(std::string method, std::multimap<std::string, std::string, std::less<>> headers = {})
{
    Request request;
    request.method = std::move(method);
    request.headers = std::move(headers);
    return request;
}

TEST(HttpAnswer, TheSamePageIsNotSentTwice)
{
    Reply page;
    page.body = std::string(5'000, 'a');
    Finished const finished = finish(page, false);
    ASSERT_FALSE(finished.tag.empty());
    EXPECT_EQ(answer_of(finished, asked("GET")).status, 200);
    Answer const again = answer_of(finished, asked("GET", {{"if-none-match", finished.tag}}));
    EXPECT_EQ(again.status, 304);
    EXPECT_EQ(again.body, nullptr);
    EXPECT_EQ(answer_of(finished, asked("GET", {{"if-none-match", "\"other\""}})).status, 200);
    page.body += 'b';
    EXPECT_NE(finish(page, false).tag, finished.tag);
}

TEST(HttpAnswer, AHeaderCannotBeginAnother)
{
    Reply page = Reply::see("/a\r\nSet-Cookie: b=c");
    EXPECT_EQ(finish(page, false).lines.find("\nSet-Cookie"), std::string::npos);
    EXPECT_NE(answer_of(page, asked("POST"), "b=c").lines.find("\nSet-Cookie: b=c\r\n"), std::string::npos);
}

TEST(HttpAnswer, APageKeepsItsOwnGuardAndGetsTheOthers)
{
    Reply page;
    page.headers.emplace_back("content-security-policy", "default-src 'none'");
    std::string const lines = finish(page, false).lines;
    EXPECT_EQ(lines.find("Content-Security-Policy"), std::string::npos);
    EXPECT_NE(lines.find("X-Content-Type-Options: nosniff\r\n"), std::string::npos);
}

TEST(HttpAnswer, ASharedPageIsThePageWithTheToken)
{
    Reply page;
    page.headers.emplace_back("X-Part", "list");
    page.body = "<form>GAP</form>" + std::string(5'000, 'a') + "GAP";
    Reply own = page;
    own.body = "<form>token</form>" + std::string(5'000, 'a') + "token";
    for (bool const pack : {false, true}) {
        Finished const whole = finish(own, pack);
        SharedPage const shared(page, "GAP", pack);
        Finished const filled = shared.with("token");
        EXPECT_EQ(filled.status, whole.status);
        EXPECT_EQ(filled.lines, whole.lines);
        if (!pack) {
            EXPECT_EQ(*filled.body, *whole.body); // tests/unit/web/compress.cpp reads the packed ones
        }
        EXPECT_FALSE(filled.tag.empty());
        EXPECT_EQ(shared.with("token").tag, filled.tag);
        EXPECT_NE(shared.with("other").tag, filled.tag);
        EXPECT_GT(shared.bytes(), 20U);
    }
}

TEST(HttpAnswer, ARefusalClosesAndSaysWhenToComeBack)
{
    Answer const answer = refusal_answer(503, "Later.", 2);
    EXPECT_TRUE(answer.close);
    EXPECT_NE(answer.lines.find("Retry-After: 2\r\n"), std::string::npos);
    EXPECT_EQ(*answer.body, "Later.\n");
    EXPECT_EQ(status_line(503), "HTTP/1.1 503 Service Unavailable\r\n");
}

} // namespace http_answer_test
} // namespace guidepin::web
