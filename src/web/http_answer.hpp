// SPDX-License-Identifier: Apache-2.0
// A page's reply as it goes over the wire: guards, tag, compression, header lines.
// Verified by: tests/unit/web/http_answer.cpp, tests/web/security.test.mjs (guards),
// tests/web/pages.test.mjs.
#pragma once

#include "web/compress.hpp"
#include "web/page.hpp"
#include "web/request.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace guidepin::web {

/// A reply that may be sent many times: its body is compressed once.
struct Finished
{
    int status = 200;
    std::string lines; ///< header lines, each with its end
    std::string tag;   ///< ETag; empty if there is none
    std::shared_ptr<std::string const> body;
};

/// A page that many sessions get, each with its own token in it: rendered once and compressed once.
class SharedPage
{
  public:
    /// `gap` marks the places of the token in the page.
    SharedPage(Reply reply, std::string_view gap, bool pack);

    Finished with(std::string_view token) const;
    std::size_t bytes() const; ///< that it takes in memory, about

  private:
    int status_;
    std::string lines_;
    std::uint64_t hash_;                         ///< of the body
    std::vector<std::string> pieces_;            ///< between the gaps
    std::optional<CompressedPieces> compressed_; ///< instead of pieces_
};

/// What one connection sends. "Content-Length" and "Connection" are the connection's to say.
struct Answer
{
    int status = 200;
    std::string lines;
    std::shared_ptr<std::string const> body;
    bool close = false; ///< no further request on this connection
};

/// Whether who asks can unpack gzip.
bool takes_gzip(Request const& request);
Finished finish(Reply reply, bool pack);
/// 304 without a body where who asks has this reply already.
Answer answer_of(Finished const& finished, Request const& request, std::string const& set_cookie = {});
/// finish() and answer_of() at once, for what is sent once.
Answer answer_of(Reply reply, Request const& request, std::string const& set_cookie = {});
/// Refused before a page was asked: in words, and the connection is closed.
Answer refusal_answer(int status, std::string words, int retry_after_s = 0);

/// "HTTP/1.1 404 Not Found" with its line end.
std::string status_line(int status);

} // namespace guidepin::web
