// SPDX-License-Identifier: Apache-2.0
// Numbers with units. Explicit in, value() out; an operation that means nothing does not compile.
// Verified by: tests/unit/units/quantity.cpp (static_asserts on what must not compile).
#pragma once

#include "base/result.hpp"
#include "base/text.hpp"

#include <cmath>
#include <compare>
#include <cstdint>

namespace guidepin {

/// The common body of our units: a double with a name. Sums, differences and scaling by a plain number.
template <class Self>
class Quantity
{
  public:
    constexpr Quantity() = default;
    constexpr explicit Quantity(double value)
        : value_(value)
    {
    }
    constexpr double value() const { return value_; }

    friend constexpr auto operator<=>(Quantity const&, Quantity const&) = default;
    friend constexpr Self operator-(Self a) { return Self{-a.value()}; }
    friend constexpr Self operator+(Self a, Self b) { return Self{a.value() + b.value()}; }
    friend constexpr Self operator-(Self a, Self b) { return Self{a.value() - b.value()}; }
    friend constexpr Self operator*(Self a, double k) { return Self{a.value() * k}; }
    friend constexpr Self operator*(double k, Self a) { return Self{k * a.value()}; }
    friend constexpr Self operator/(Self a, double k) { return Self{a.value() / k}; }
    friend constexpr double operator/(Self a, Self b) { return a.value() / b.value(); }
    constexpr Self& operator+=(Self b)
    {
        value_ += b.value();
        return static_cast<Self&>(*this);
    }

  private:
    double value_ = 0;
};

/// Attenuation, gain, margin, limit: a ratio of powers, 10*log10. Positive attenuation is loss.
struct Decibel : Quantity<Decibel>
{
    using Quantity::Quantity;
};

/// Distance along the fibre, in metres.
struct Metres : Quantity<Metres>
{
    using Quantity::Quantity;
    constexpr double kilometres() const { return value() / 1000.0; }
};

/// Duration in seconds.
struct Seconds : Quantity<Seconds>
{
    using Quantity::Quantity;
};

/// Attenuation coefficient of a fibre.
struct DecibelPerKilometre : Quantity<DecibelPerKilometre>
{
    using Quantity::Quantity;
};
constexpr Decibel operator*(DecibelPerKilometre alpha, Metres length)
{
    return Decibel{alpha.value() * length.kilometres()};
}
constexpr Decibel operator*(Metres length, DecibelPerKilometre alpha)
{
    return alpha * length;
}

/// Absolute optical power level. A level plus a level has no meaning.
class Dbm
{
  public:
    constexpr Dbm() = default;
    constexpr explicit Dbm(double value)
        : value_(value)
    {
    }
    constexpr double value() const { return value_; }
    friend constexpr auto operator<=>(Dbm const&, Dbm const&) = default;
    constexpr Dbm operator-() const { return Dbm{-value_}; } // so that -3.0_dBm reads as a level
    friend constexpr Dbm operator-(Dbm level, Decibel loss) { return Dbm{level.value_ - loss.value()}; }
    friend constexpr Dbm operator+(Dbm level, Decibel gain) { return Dbm{level.value_ + gain.value()}; }
    friend constexpr Decibel operator-(Dbm a, Dbm b) { return Decibel{a.value_ - b.value_}; }

  private:
    double value_ = 0;
};

/// Nominal wavelength in vacuum, whole nanometres: it names a measurement and is compared exactly.
class Nanometres
{
  public:
    constexpr Nanometres() = default;
    constexpr explicit Nanometres(int value)
        : value_(value)
    {
    }
    constexpr int value() const { return value_; }
    friend constexpr auto operator<=>(Nanometres const&, Nanometres const&) = default;

  private:
    int value_ = 0;
};

/// A number from 0 to 1, both included.
class Probability
{
  public:
    constexpr Probability() = default;
    /// Nothing if `value` lies outside 0..1 or is no number.
    static std::optional<Probability> from(double value)
    {
        if (!(value >= 0 && value <= 1)) return std::nullopt;
        return Probability{value};
    }
    /// For the result of our own arithmetic, where a rounding error may lead a hair outside.
    static Probability clamped(double value) { return Probability{value < 0 ? 0 : value > 1 ? 1 : value}; }
    constexpr double value() const { return value_; }
    friend constexpr auto operator<=>(Probability const&, Probability const&) = default;

  private:
    constexpr explicit Probability(double value)
        : value_(value)
    {
    }
    double value_ = 0;
};

inline namespace literals {
constexpr Decibel operator""_dB(long double v)
{
    return Decibel{static_cast<double>(v)};
}
constexpr Decibel operator""_dB(unsigned long long v)
{
    return Decibel{static_cast<double>(v)};
}
constexpr Dbm operator""_dBm(long double v)
{
    return Dbm{static_cast<double>(v)};
}
constexpr Dbm operator""_dBm(unsigned long long v)
{
    return Dbm{static_cast<double>(v)};
}
constexpr Metres operator""_m(long double v)
{
    return Metres{static_cast<double>(v)};
}
constexpr Metres operator""_m(unsigned long long v)
{
    return Metres{static_cast<double>(v)};
}
constexpr Nanometres operator""_nm(unsigned long long v)
{
    return Nanometres{static_cast<int>(v)};
}
} // namespace literals

/// Exactly 0.3048 (international foot, 1959).
constexpr double metres_per_foot = 0.3048;

/// "30", "30 m", "98.5 ft", "98.5'" as metres; nothing for anything else.
std::optional<Metres> parse_length(std::string_view text);

} // namespace guidepin
