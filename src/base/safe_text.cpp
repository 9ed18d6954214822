// SPDX-License-Identifier: Apache-2.0
#include "base/safe_text.hpp"

namespace guidepin {

std::string html_escaped(std::string_view text)
{
    std::string result;
    result.reserve(text.size());
    for (char const letter : text) {
        switch (letter) {
        case '<':
            result += "&lt;";
            break;
        case '>':
            result += "&gt;";
            break;
        case '&':
            result += "&amp;";
            break;
        case '"':
            result += "&quot;";
            break;
        case '\'':
            result += "&#39;";
            break;
        default:
            result += letter;
        }
    }
    return result;
}

std::string url_escaped(std::string_view text)
{
    std::string result;
    for (char const letter : text) {
        bool const plain = (letter >= 'a' && letter <= 'z') || (letter >= 'A' && letter <= 'Z') ||
                           (letter >= '0' && letter <= '9') || letter == '-' || letter == '_' ||
                           letter == '.' || letter == '~';
        if (plain) {
            result += letter;
        } else {
            result += fmt::format("%{:02X}", static_cast<unsigned char>(letter));
        }
    }
    return result;
}

} // namespace guidepin
