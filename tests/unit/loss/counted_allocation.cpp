// SPDX-License-Identifier: Apache-2.0
// The allocation functions of this test program, counted. In a file of their own so that no call is inlined.
#include <cstdlib>
#include <new>

namespace guidepin::loss {

thread_local long counted_allocations = 0;

} // namespace guidepin::loss

void* operator new(std::size_t size)
{
    ++guidepin::loss::counted_allocations;
    if (void* const memory = std::malloc(size ? size : 1)) return memory;
    throw std::bad_alloc{};
}
void* operator new(std::size_t size, std::nothrow_t const&) noexcept
{
    ++guidepin::loss::counted_allocations;
    return std::malloc(size ? size : 1);
}
void operator delete(void* memory) noexcept
{
    std::free(memory);
}
void operator delete(void* memory, std::size_t) noexcept
{
    std::free(memory);
}
void operator delete(void* memory, std::nothrow_t const&) noexcept
{
    std::free(memory);
}
