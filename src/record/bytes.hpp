// SPDX-License-Identifier: Apache-2.0
// A text as the bytes that libsodium takes. Verified by: tests/oracle/record/digest.cpp.
#pragma once

#include <string_view>

namespace guidepin::record {

inline unsigned char const* as_bytes(std::string_view text)
{
    return reinterpret_cast<unsigned char const*>(text.data());
}

} // namespace guidepin::record
