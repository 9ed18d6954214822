// SPDX-License-Identifier: Apache-2.0
#include "web/http_request.hpp"
#include "whole_request.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <fmt/format.h>

namespace guidepin::web {
namespace http_request_test {

RequestLimits const limits;

std::string get(std::string_view target, std::string_view more = {})
{
    return fmt::format("GET {} HTTP/1.1\r\nHost: a\r\n{}\r\n", target, more);
}

std::string post(std::string_view type, std::string_view body)
{
    return fmt::format("POST /x HTTP/1.1\r\nHost: a\r\nContent-Type: {}\r\nContent-Length: {}\r\n\r\n{}",
                       type, body.size(), body);
}

int status_of(std::variant<Request, Refusal> const& parsed)
{
    auto const* no = std::get_if<Refusal>(&parsed);
    return no == nullptr ? 200 : no->status;
}

TEST(HttpRequest, ReadsPathQueryAndHeaders)
{
    auto const parsed =
        parse_request(get("/a%20b?x=1&y=a+b%2Bc&x=2&z", "X-One:  two \r\nCookie: c=d\r\n"), limits);
    ASSERT_EQ(status_of(parsed), 200);
    Request const& request = std::get<Request>(parsed);
    EXPECT_EQ(request.method, "GET");
    EXPECT_EQ(request.path, "/a b");
    EXPECT_EQ(request.query, "x=1&y=a+b%2Bc&x=2&z");
    EXPECT_EQ(request.fields.count("x"), 2U);
    EXPECT_EQ(request.fields.find("x")->second, "1");
    EXPECT_EQ(request.fields.find("y")->second, "a b+c");
    EXPECT_EQ(request.fields.find("z")->second, "");
    EXPECT_EQ(request.header("x-one"), "two");
    EXPECT_TRUE(request.has_header("cookie"));
}

TEST(HttpRequest, ReadsBothKindsOfForms)
{
    auto const plain = parse_request(post("application/x-www-form-urlencoded", "id=N-07&text=a%0Ab"), limits);
    ASSERT_EQ(status_of(plain), 200);
    EXPECT_EQ(std::get<Request>(plain).fields.find("text")->second, "a\nb");
    std::string const body =
        "--b\r\nContent-Disposition: form-data; name=\"id\"\r\n\r\nN-07\r\n"
        "--b\r\ncontent-disposition: form-data; name=\"file\"; filename=\"a \\\"b\\\".csv\"\r\n"
        "Content-Type: text/csv\r\n\r\na\r\n--c\r\n\r\n--b--\r\n";
    auto const parts = parse_request(post("multipart/form-data; boundary=\"b\"", body), limits);
    ASSERT_EQ(status_of(parts), 200);
    Request const& request = std::get<Request>(parts);
    EXPECT_EQ(request.fields.find("id")->second, "N-07");
    Upload const& upload = request.uploads.at("file");
    EXPECT_EQ(upload.name, "a \"b\".csv");
    EXPECT_EQ(upload.type, "text/csv");
    EXPECT_EQ(upload.bytes, "a\r\n--c\r\n");
}

TEST(HttpRequest, RefusesAFormThatIsNotWhole)
{
    for (std::string const body :
         {"", "--b", "--b\r\n", "--b\r\nContent-Disposition: form-data\r\n\r\nx\r\n--b--",
          "--b\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\nx",
          "--b\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\nx\r\n--b"})
        EXPECT_EQ(status_of(parse_request(post("multipart/form-data; boundary=b", body), limits)), 400)
            << body;
    std::string many;
    for (std::size_t i = 0; i <= limits.fields; ++i) many += "a=b&";
    EXPECT_EQ(status_of(parse_request(post("application/x-www-form-urlencoded", many), limits)), 413);
}

TEST(HttpRequest, RefusesWhatTwoReadersMayUnderstandDifferently)
{
    for (std::string const more :
         {"Content-Length: 1\r\nContent-Length: 1\r\n", "Content-Length: 0, 0\r\n", "Content-Length: -1\r\n",
          "Content-Length: 0x1\r\n", "X: a\r\n b\r\n", "X : a\r\n", ": a\r\n", "X: a\nY: b\r\n",
          "Host: b\r\n", "X: a\rb\r\n", "Content-Length: 3\r\n"})
        EXPECT_EQ(status_of(parse_request(get("/", more) + "abc", limits)), 400) << more;
    EXPECT_EQ(status_of(parse_request("GET / HTTP/1.1\r\n\r\n", limits)), 400);
    EXPECT_EQ(status_of(parse_request("POST / HTTP/1.1\r\nHost: a\r\n\r\n", limits)), 411);
    EXPECT_EQ(status_of(parse_request(get("/", "Transfer-Encoding: chunked\r\n"), limits)), 411);
    EXPECT_EQ(status_of(parse_request(get("/", "Transfer-Encoding: identity\r\n"), limits)), 411);
    EXPECT_EQ(status_of(parse_request(get("/", "Content-Encoding: br\r\n"), limits)), 415);
    EXPECT_EQ(status_of(parse_request("GET / HTTP/2.0\r\nHost: a\r\n\r\n", limits)), 505);
    EXPECT_EQ(status_of(parse_request("GET http://b/ HTTP/1.1\r\nHost: a\r\n\r\n", limits)), 400);
}

TEST(HttpRequest, HoldsItsLimitsToTheByte)
{
    auto const of_line = [](std::size_t length) {
        return get(fmt::format("/{}", std::string(length - std::string_view("GET / HTTP/1.1").size(), 'a')));
    };
    EXPECT_EQ(status_of(parse_request(of_line(limits.request_line), limits)), 200);
    EXPECT_EQ(status_of(parse_request(of_line(limits.request_line + 1), limits)), 414);
    auto const of_head = [](std::size_t length) {
        return get("/",
                   fmt::format("X: {}\r\n",
                               std::string(length - std::string_view("Host: a\r\nX: \r\n").size(), 'a')));
    };
    EXPECT_EQ(status_of(parse_request(of_head(limits.head), limits)), 200);
    EXPECT_EQ(status_of(parse_request(of_head(limits.head + 1), limits)), 431);
    std::string headers;
    for (std::size_t i = 1; i < limits.headers; ++i) headers += "X: a\r\n";
    EXPECT_EQ(status_of(parse_request(get("/", headers), limits)), 200);
    EXPECT_EQ(status_of(parse_request(get("/", headers + "X: a\r\n"), limits)), 431);
    auto const of_body = [](std::size_t length) {
        return parse_head(fmt::format("POST / HTTP/1.1\r\nHost: a\r\nContent-Length: {}\r\n\r\n", length),
                          limits);
    };
    EXPECT_TRUE(std::holds_alternative<Head>(of_body(limits.body)));
    EXPECT_EQ(std::get<Refusal>(of_body(limits.body + 1)).status, 413);
}

RC_GTEST_PROP(HttpRequest, AHeadIsFoundAtTheSamePlaceHoweverItComesIn, ())
{
    std::string const bytes =
        get("/" + *rc::gen::container<std::string>(rc::gen::inRange('a', 'z')),
            fmt::format("X: {}\r\n", *rc::gen::container<std::string>(rc::gen::inRange('a', 'z')))) +
        "rest";
    std::size_t scanned = 0, found = 0;
    while (found == 0) {
        auto const there = std::min(bytes.size(), scanned + *rc::gen::inRange<std::size_t>(1, 9));
        auto const length = head_length(std::string_view(bytes).substr(0, there), scanned, limits);
        found = std::get<std::size_t>(length);
        scanned = there;
    }
    RC_ASSERT(found == bytes.size() - 4);
}

RC_GTEST_PROP(HttpRequest, KeepAliveIsAsTheVersionAndTheHeaderSay, (bool eleven))
{
    auto const keeps = [&](std::string_view header) {
        auto const head =
            parse_head(fmt::format("GET / HTTP/1.{}\r\nHost: a\r\n{}\r\n", eleven ? 1 : 0, header), limits);
        return std::get<Head>(head).keep_alive;
    };
    RC_ASSERT(keeps("") == eleven);
    RC_ASSERT(keeps("Connection: Keep-Alive\r\n"));
    RC_ASSERT(!keeps("Connection: close\r\n"));
}

} // namespace http_request_test
} // namespace guidepin::web
