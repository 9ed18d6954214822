// SPDX-License-Identifier: Apache-2.0
#include "web/reach.hpp"

#include <fmt/format.h>

namespace guidepin::web {

std::string address_of(bool tls, std::string const& host, int port)
{
    bool const six = host.find(':') != std::string::npos;
    return fmt::format("{}://{}{}{}:{}/", tls ? "https" : "http", six ? "[" : "", host, six ? "]" : "", port);
}

std::string pairing_text(std::string_view address, std::string_view code, std::string_view fingerprint)
{
    std::string digits;
    for (char const letter : fingerprint) {
        if (letter != ':') digits += letter;
    }
    return fmt::format("{}pair#code={}{}{}", address, code, digits.empty() ? "" : "&sha256=", digits);
}

} // namespace guidepin::web
