// SPDX-License-Identifier: Apache-2.0
// One registry row a page: routing, rights, navigation, help and the tests walk it.
// Verified by: tests/web (each row visited, each right tried from every role).
#pragma once

#include "base/result.hpp"
#include "base/safe_text.hpp"
#include "job/entry/entries.hpp"

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace guidepin::web {

class Desk;
struct Reach;

/// Who may ask for a page.
enum class Access {
    anybody, ///< also who has not paired yet
    read,    ///< everyone who may see the job
    note,    ///< everyone who may see it, and it sends something
    enter,   ///< technicians and leads
    lead,    ///< leads alone
};

struct Upload
{
    std::string name; ///< from the browser: shown as text, never used as a path
    std::string type;
    std::string bytes;
};

/// One request of a person, and who the person is.
struct Exchange
{
    std::string method, path;
    std::multimap<std::string, std::string> fields; ///< of the query, then of the form
    std::map<std::string, Upload> uploads;
    bool part = false; ///< asked for a part of the page, by htmx
    bool json = false; ///< asked by our own script: an error is sent as text
    std::string theme; ///< "light", "dark" or empty: as the system has it
    std::string person;
    job::Role role = job::Role::reviewer; ///< as the job's people have it at this moment
    bool at_machine = false;              ///< the session began with the serving machine's one-time key
    std::string token, session;
    std::string peer;            ///< the address that asks, without a port
    std::int64_t now_ms = 0;     ///< since the machine started, as sessions and codes use it
    std::string old_certificate; ///< fingerprint that this device knew, where it is not the present one
    std::shared_ptr<Reach const> reach; ///< null in tests of single pages

    std::string text(std::string_view name) const;
    std::vector<std::string> texts(std::string_view name) const;
    bool has(std::string_view name) const;
    bool may(Access access) const;
};

struct Reply
{
    int status = 200;
    std::string type = "text/html; charset=utf-8";
    std::string body;
    std::vector<std::pair<std::string, std::string>> headers;

    static Reply see(std::string place); ///< after a change: look there (303)
    static Reply text(std::string words, int status = 200);
};

struct Page
{
    std::string_view method, path;
    std::string_view title;
    Result<Reply> (*show)(Desk&, Exchange const&);
    Access access;
    std::string_view help; ///< one sentence
    bool in_menu = false;
    std::string_view example = {}; ///< a query with which a test may visit it: "?id=N-07"
};

std::span<Page const> pages();

} // namespace guidepin::web
