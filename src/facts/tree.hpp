// SPDX-License-Identifier: Apache-2.0
// A TOML text as a plain tree that knows its lines, so that every message can name one.
//
// Verified by: tests/unit/facts/rule_set.cpp (messages by line), tests/fuzz/rule_set.cpp.
#pragma once

#include "base/result.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace guidepin::facts {

struct Member;

struct Node
{
    enum class Kind { text, number, whole, flag, list, table, other };
    Kind kind = Kind::other;
    int line = 0;
    std::string text;
    double number = 0; ///< also set for `whole`
    bool flag = false;
    std::vector<Node> items;     ///< of a list
    std::vector<Member> members; ///< of a table, in the order of the file

    Node const* member(std::string_view key) const;
    bool is_number() const { return kind == Kind::number || kind == Kind::whole; }
};

struct Member
{
    std::string key;
    Node value;
};

char const* name_of(Node::Kind kind); ///< "a text", "a number", … for messages

/// invalid_input with file, line and reason for what is no TOML.
Result<Node> parse_tree(std::string const& name, std::string_view text);

} // namespace guidepin::facts
