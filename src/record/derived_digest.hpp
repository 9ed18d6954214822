// SPDX-License-Identifier: Apache-2.0
// One number for all derived rows, which can follow a change without reading the rest: the sum, modulo 2^256,
// of SHA-256 over each row. The order of the rows does not matter. It finds rows that were changed by mistake
// or by a stranger when it is compared with the digest of rows computed from the records; by itself it proves
// nothing. Verified by: tests/store/record/store.cpp.
#pragma once

#include "base/result.hpp"
#include "record/derived.hpp"
#include "record/digest.hpp"

namespace guidepin::record {

class DerivedDigest
{
  public:
    DerivedDigest() = default;
    /// Of all rows of `tables`. Errors: invalid_input (a number that JSON cannot hold).
    static Result<DerivedDigest> of(DerivedTables const& tables);
    /// As hex() gave it; zero for anything else.
    static DerivedDigest from_hex(std::string_view text);

    Outcome add(DerivedTables const& rows);
    Outcome remove(DerivedTables const& rows);
    std::string hex() const { return sum_.hex(); }

    friend bool operator==(DerivedDigest const&, DerivedDigest const&) = default;

  private:
    Digest sum_; ///< as a number: the first byte is the most significant
};

} // namespace guidepin::record
