// SPDX-License-Identifier: Apache-2.0
// Expected failures are values. The names stay close to std::expected, to switch when the compiler has it.
#pragma once

#include "base/error.hpp"

#include <cassert>
#include <optional>
#include <type_traits>
#include <utility>
#include <variant>

namespace guidepin {

/// A value of type T, or the Error that kept us from it. Ignoring one is a compiler warning.
template <class T>
class [[nodiscard]] Result
{
  public:
    using value_type = T;

    Result(T value)
        : state_(std::in_place_index<0>, std::move(value))
    {
    }
    Result(Error error)
        : state_(std::in_place_index<1>, std::move(error))
    {
    }

    bool has_value() const { return state_.index() == 0; }
    explicit operator bool() const { return has_value(); }

    T& value() &
    {
        assert(has_value());
        return *std::get_if<0>(&state_);
    }
    T const& value() const&
    {
        assert(has_value());
        return *std::get_if<0>(&state_);
    }
    T&& value() &&
    {
        assert(has_value());
        return std::move(*std::get_if<0>(&state_));
    }
    T& operator*() & { return value(); }
    T const& operator*() const& { return value(); }
    T&& operator*() && { return std::move(*this).value(); }
    T* operator->() { return &value(); }
    T const* operator->() const { return &value(); }

    Error const& error() const&
    {
        assert(!has_value());
        return *std::get_if<1>(&state_);
    }
    Error&& error() &&
    {
        assert(!has_value());
        return std::move(*std::get_if<1>(&state_));
    }

    T value_or(T fallback) const& { return has_value() ? value() : std::move(fallback); }

  private:
    std::variant<T, Error> state_;
};

template <>
class [[nodiscard]] Result<void>
{
  public:
    using value_type = void;

    Result() = default;
    Result(Error error)
        : error_(std::move(error))
    {
    }

    bool has_value() const { return !error_; }
    explicit operator bool() const { return has_value(); }
    Error const& error() const&
    {
        assert(error_);
        return *error_;
    }
    Error&& error() &&
    {
        assert(error_);
        return std::move(*error_);
    }

  private:
    std::optional<Error> error_;
};

using Outcome = Result<void>;

} // namespace guidepin

#define GUIDEPIN_JOIN2(a, b) a##b
#define GUIDEPIN_JOIN(a, b) GUIDEPIN_JOIN2(a, b)
#define GUIDEPIN_TRY_ASSIGN(temporary, declaration, expression)                                              \
    auto temporary = (expression);                                                                           \
    if (!temporary) return std::move(temporary).error();                                                     \
    declaration = std::move(temporary).value()

/// TRY_ASSIGN(auto const loss, parse_decibel(text)); leaves the function with the error, or goes on with the
/// value.
#define TRY_ASSIGN(declaration, ...)                                                                         \
    GUIDEPIN_TRY_ASSIGN(GUIDEPIN_JOIN(try_result_, __COUNTER__), declaration, (__VA_ARGS__))

/// TRY(store.append(record)); for a Result whose value is not needed.
#define TRY(...)                                                                                             \
    do {                                                                                                     \
        auto try_outcome = (__VA_ARGS__);                                                                    \
        if (!try_outcome) return std::move(try_outcome).error();                                             \
    } while (false)
