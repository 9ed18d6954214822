// SPDX-License-Identifier: Apache-2.0
#include "base/error.hpp"

namespace guidepin {

namespace {

struct ErrcRow
{
    Errc code;
    char const* name;
    int exit_code;
    int http_status;
};

constexpr ErrcRow rows[] = {
    {Errc::usage, "usage", 2, 400},
    {Errc::invalid_input, "invalid-input", 3, 422},
    {Errc::not_found, "not-found", 3, 404},
    {Errc::conflict, "conflict", 3, 409},
    {Errc::refused, "refused", 3, 409},
    {Errc::newer_version, "newer-version", 4, 409},
    {Errc::damaged, "damaged", 3, 500},
    {Errc::busy, "busy", 4, 503},
    {Errc::environment, "environment", 4, 507},
    {Errc::internal, "internal", 5, 500},
};

ErrcRow const& row_of(Errc code)
{
    for (ErrcRow const& row : rows) {
        if (row.code == code) return row;
    }
    return rows[9];
}

} // namespace

int exit_code(Errc code)
{
    return row_of(code).exit_code;
}
int http_status(Errc code)
{
    return row_of(code).http_status;
}
char const* name_of(Errc code)
{
    return row_of(code).name;
}

} // namespace guidepin
