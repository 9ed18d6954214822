// SPDX-License-Identifier: Apache-2.0
// One reader for each kind of fact file. Inside this room only.
//
// Verified by: tests/unit/facts/tables.cpp.
#pragma once

#include "facts/reader.hpp"
#include "facts/tables.hpp"

#include <set>

namespace guidepin::facts {

/// Where values go while files are read: the typed tables, and the flat list with unique ids.
class Gathering
{
  public:
    explicit Gathering(Tables& tables)
        : tables_(&tables)
    {
    }
    Tables& tables() { return *tables_; }
    /// Adds a fact that was read at `section`; an id that exists already is reported.
    void add(Section const& section, Fact const& fact);
    /// Takes an id for the flat list without adding a fact; false and reported when it exists.
    bool claim(Section const& section, std::string const& id);

  private:
    Tables* tables_;
    std::set<std::string, std::less<>> ids_;
};

void read_fibres(Section& file, Sources const& sources, Gathering& into);
void read_connections(Section& file, Sources const& sources, Gathering& into);
void read_applications(Section& file, Sources const& sources, Gathering& into);
void read_ports(Section& file, Sources const& sources, Gathering& into);
void read_reflectance(Section& file, Sources const& sources, Gathering& into);
void read_colours(Section& file, Sources const& sources, Gathering& into);
void read_uncertainty(Section& file, Sources const& sources, Gathering& into);
void read_end_faces(Section& file, Sources const& sources, Gathering& into);

/// The member "fibre" of a row; nothing, and reported, where it names no kind.
std::optional<FibreKind> taken_fibre(Section& row);

/// The [[fact]] rows that any file may have.
void read_loose_facts(Section& file, Sources const& sources, Gathering& into);

/// Reads a rule set over `base` (a copy of the one it is based on, or an empty one). The facts that the file
/// itself gives are appended to `own`.
void read_rule_set(Section& file, Sources const& sources, Tables const& known, RuleSet& rules,
                   std::vector<Fact>& own);

/// Wavelengths of an optical measurement in these tables, nm.
constexpr int shortest_wavelength = 600;
constexpr int longest_wavelength = 1700;

} // namespace guidepin::facts
