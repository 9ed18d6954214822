// SPDX-License-Identifier: Apache-2.0
#include "web/pages/pages.hpp"

#include <array>

namespace guidepin::web {

namespace {

#define PAGE(method, path, title, function, access, ...)                                                     \
    Page{method, path, title, &function, Access::access, __VA_ARGS__},
constexpr std::array registry{
#include "web/pages/pages.inc"
};
#undef PAGE

} // namespace

std::span<Page const> pages()
{
    return registry;
}

} // namespace guidepin::web
