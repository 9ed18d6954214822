// SPDX-License-Identifier: Apache-2.0
#include "intake/reference.hpp"

#include "intake/readings_columns.hpp"
#include "intake/repetition.hpp"
#include "intake/row_source.hpp"

#include <fmt/format.h>

namespace guidepin::intake {

namespace {

/// The cells that all measured layouts share, one row at a time.
class MeasuredRow
{
  public:
    explicit MeasuredRow(RowSource& source)
        : source_(source)
    {
    }

    std::int16_t position()
    {
        std::int16_t value = 0;
        checked("position", [&](std::string_view text) { return read_position(text, value); });
        return value;
    }
    std::int16_t far_position()
    {
        std::int16_t value = verdict::far_not_stated;
        checked("far_position", [&](std::string_view text) { return read_far_position(text, value); });
        return value;
    }
    std::uint16_t wavelength_nm()
    {
        std::uint16_t value = 0;
        checked("wavelength_nm", [&](std::string_view text) { return read_wavelength(text, value); });
        return value;
    }
    double value(char const* column, bool is_power)
    {
        double value = 0;
        checked(column, [&](std::string_view text) { return read_value(text, '.', is_power, value); });
        return value;
    }
    double length_m()
    {
        double metres = std::numeric_limits<double>::quiet_NaN();
        for (char const* const column : {"length_m", "length_ft", "length"}) {
            if (!source_.has(source_.column(column))) continue;
            LengthUnit const unit = source_.length_unit();
            checked(column, [&](std::string_view text) { return read_length(text, '.', unit, metres); });
        }
        return metres;
    }
    /// Dictionary::missing when the cell is empty.
    std::uint32_t name(char const* column, verdict::Dictionary& names)
    {
        auto const text = source_.name(source_.column(column));
        return text && !text->empty() ? names.index_of(*text) : verdict::Dictionary::missing;
    }
    verdict::LaunchEnd launch_end()
    {
        std::uint8_t end = 0;
        checked("launch_end", [&](std::string_view text) { return read_end(text, end); });
        return static_cast<verdict::LaunchEnd>(end);
    }
    Instant moment()
    {
        bool failed = false;
        auto const moment = source_.moment(source_.column("taken_at"), failed);
        return moment.value_or(Instant{verdict::ReadingColumns::no_time, 0});
    }

  private:
    template <class Read>
    void checked(char const* column, Read const& read)
    {
        std::size_t const k = source_.column(column);
        auto const text = source_.cell(k);
        if (!text) return;
        if (char const* const fault = read(*text)) source_.fail(k, fault);
    }

    RowSource& source_;
};

template <class Content>
void finish(Intake<Content>& result, RowSource& source, ReadOptions const& options)
{
    result.rows = source.rows();
    result.unused_columns = source.unused_columns();
    result.dialect = source.dialect();
    result.bad = source.problems().take();
    result.refused = result.bad.count > 0 && !options.keep_good_rows;
}

/// Ends the reading of a file that cannot be what it is brought in as, before it takes memory and time.
class RowLimits
{
  public:
    explicit RowLimits(char const* thing)
        : thing_(thing)
    {
    }

    Outcome take(RowSource const& source, verdict::Dictionary const& names, std::uint32_t index)
    {
        if (source.rows() > most_reference_rows) {
            return Error{Errc::invalid_input,
                         fmt::format("Line {}: the file has more than {} rows, the most that is "
                                     "read of {}s; split it, or bring it in as readings.",
                                     source.line(), most_reference_rows, thing_)};
        }
        if (index == verdict::Dictionary::missing) return {};
        if (index >= rows_.size()) rows_.resize(index + 1);
        if (names.size() > most_references_of_a_file) {
            return Error{Errc::invalid_input,
                         fmt::format("Line {}: the file names more than {} {}s; split it.", source.line(),
                                     most_references_of_a_file, thing_)};
        }
        if (++rows_[index] > most_rows_of_one) {
            return Error{
                Errc::invalid_input,
                fmt::format(
                    "Line {}: {} '{}' has more than {} rows; 64 positions at 4 wavelengths, each read "
                    "10 times, are 2560.",
                    source.line(), thing_, shown(names.text(index)), most_rows_of_one)};
        }
        return {};
    }

  private:
    char const* thing_;
    std::vector<std::size_t> rows_; ///< by number of the reference
};

bool is_power_file(RowSource const& source)
{
    return source.has(source.column("power_dbm"));
}

} // namespace

Result<Intake<ReferencePowers>> read_reference(std::string_view file, ReadOptions const& options)
{
    auto opened = RowSource::open(file, LayoutKind::reference, options);
    if (!opened) return opened.error().within(options.name);
    RowSource& source = *opened;
    MeasuredRow row(source);
    Intake<ReferencePowers> result;
    ReferencePowers& powers = result.content;
    RowLimits limits("reference");
    while (source.next()) {
        auto const reference = source.name(source.column("reference"));
        std::int16_t const position = row.position();
        std::uint16_t const wavelength_nm = row.wavelength_nm();
        double const power_dbm = row.value("power_dbm", true);
        Instant const taken = row.moment();
        bool const good = !source.row_failed();
        std::uint32_t const index =
            good ? powers.references.index_of(*reference) : verdict::Dictionary::missing;
        if (auto const within = limits.take(source, powers.references, index); !within)
            return within.error().within(options.name);
        if (!good) continue;
        powers.reference.push_back(index);
        powers.position.push_back(position);
        powers.wavelength_nm.push_back(wavelength_nm);
        powers.power_dbm.push_back(power_dbm);
        powers.taken_ms.push_back(taken.ms);
        powers.offset_minutes.push_back(taken.offset_minutes);
        powers.line.push_back(source.line());
    }
    finish(result, source, options);
    if (result.refused) powers = {};
    return result;
}

Result<Intake<CordChecks>> read_cord_check(std::string_view file, ReadOptions const& options)
{
    // A cord check has the columns of a reading, with the check in place of the link: one set of rules for
    // both.
    auto opened = RowSource::open(file, LayoutKind::cord_check, options);
    if (!opened) return opened.error().within(options.name);
    RowSource& source = *opened;
    MeasuredRow row(source);
    Intake<verdict::ReadingColumns> readings;
    verdict::ReadingColumns& columns = readings.content;
    columns.is_power = is_power_file(source);
    RowLimits limits("cord check");
    while (source.next()) {
        PlainReading reading;
        reading.link = row.name("check", columns.links);
        reading.reference = row.name("reference", columns.references);
        reading.position = row.position();
        reading.far_position = row.far_position();
        reading.wavelength_nm = row.wavelength_nm();
        reading.value = row.value(columns.is_power ? "power_dbm" : "attenuation_db", columns.is_power);
        reading.length_m = row.length_m();
        reading.taken = row.moment();
        reading.line = source.line();
        if (auto const within = limits.take(source, columns.links, reading.link); !within)
            return within.error().within(options.name);
        if (!source.row_failed()) append(columns, reading);
    }
    finish(readings, source, options);
    settle_repetitions(readings, options, "check");
    Intake<CordChecks> result;
    result.bad = std::move(readings.bad);
    result.repeated = std::move(readings.repeated);
    result.unused_columns = std::move(readings.unused_columns);
    result.rows = readings.rows;
    result.refused = readings.refused;
    result.dialect = readings.dialect;
    result.content.checks = verdict::IdDictionary<verdict::CordCheckEntry>(std::move(columns.links));
    result.content.references = std::move(columns.references);
    result.content.check = std::move(columns.link);
    result.content.reference = std::move(columns.reference);
    result.content.position = std::move(columns.position);
    result.content.far_position = std::move(columns.far_position);
    result.content.wavelength_nm = std::move(columns.wavelength_nm);
    result.content.value = std::move(columns.value);
    result.content.length_m = std::move(columns.length_m);
    result.content.taken_ms = std::move(columns.taken_ms);
    result.content.offset_minutes = std::move(columns.offset_minutes);
    result.content.line = std::move(columns.line);
    result.content.is_power = columns.is_power;
    return result;
}

Result<Intake<verdict::ReadingColumns>> read_readings_by_row(std::string_view file,
                                                             ReadOptions const& options)
{
    auto opened = RowSource::open(file, LayoutKind::readings, options);
    if (!opened) return opened.error().within(options.name);
    RowSource& source = *opened;
    MeasuredRow row(source);
    Intake<verdict::ReadingColumns> result;
    verdict::ReadingColumns& columns = result.content;
    columns.is_power = is_power_file(source);
    while (source.next()) {
        PlainReading reading;
        reading.link = row.name("link", columns.links);
        reading.launch_end = row.launch_end();
        reading.position = row.position();
        reading.far_position = row.far_position();
        reading.wavelength_nm = row.wavelength_nm();
        reading.value = row.value(columns.is_power ? "power_dbm" : "attenuation_db", columns.is_power);
        reading.length_m = row.length_m();
        reading.taken = row.moment();
        reading.reference = row.name("reference", columns.references);
        reading.operator_name = row.name("operator", columns.operators);
        reading.line = source.line();
        if (!source.row_failed()) append(columns, reading);
    }
    finish(result, source, options);
    settle_repetitions(result, options, "link");
    return result;
}

} // namespace guidepin::intake
