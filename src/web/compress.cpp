// SPDX-License-Identifier: Apache-2.0
#include "web/compress.hpp"

#include <zlib.h>

#include <cassert>

namespace guidepin::web {

namespace {

constexpr int compression_level = 5, memory = 8, largest_window = 15;
constexpr int gzip = largest_window + 16, raw = -largest_window; ///< as zlib's manual has it
constexpr std::size_t longest_stored = 65'535;                   ///< bytes in a stored block, RFC 1951, 3.2.4

/// One stream of zlib's, from its beginning to its end.
class Deflater
{
  public:
    explicit Deflater(int window)
        : begun_(deflateInit2(&stream_, compression_level, Z_DEFLATED, window, memory, Z_DEFAULT_STRATEGY) ==
                 Z_OK)
    {
    }
    ~Deflater()
    {
        if (begun_) deflateEnd(&stream_);
    }
    Deflater(Deflater const&) = delete;
    Deflater& operator=(Deflater const&) = delete;

    Result<std::string> deflated(std::string_view bytes, int flush)
    {
        if (!begun_) return Error{Errc::environment, "There is no memory to compress a page"};
        constexpr std::size_t of_a_flush = 16;
        std::string out(deflateBound(&stream_, bytes.size()) + of_a_flush, '\0');
        stream_.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(bytes.data()));
        stream_.avail_in = static_cast<uInt>(bytes.size());
        stream_.next_out = reinterpret_cast<Bytef*>(out.data());
        stream_.avail_out = static_cast<uInt>(out.size());
        int const code = deflate(&stream_, flush);
        if (code != (flush == Z_FINISH ? Z_STREAM_END : Z_OK) || stream_.avail_in != 0)
            return Error{Errc::internal, "A page could not be compressed"};
        out.resize(out.size() - stream_.avail_out);
        return out;
    }

  private:
    z_stream stream_{};
    bool begun_;
};

std::uint32_t crc_of(std::string_view bytes)
{
    return static_cast<std::uint32_t>(
        crc32(0, reinterpret_cast<Bytef const*>(bytes.data()), static_cast<uInt>(bytes.size())));
}

std::uint32_t crc_of_both(std::uint32_t first, std::uint32_t second, std::size_t length_of_second)
{
    return static_cast<std::uint32_t>(crc32_combine(first, second, static_cast<z_off_t>(length_of_second)));
}

void append_little_endian(std::string& out, std::uint32_t number, int bytes)
{
    for (int i = 0; i < bytes; ++i) out += static_cast<char>(number >> (8 * i) & 0xffU);
}

/// A block that is not the last and not compressed.
std::string stored_block(std::string_view bytes)
{
    assert(bytes.size() <= longest_stored);
    auto const length = static_cast<std::uint32_t>(bytes.size());
    std::string out(1, '\0');
    append_little_endian(out, length, 2);
    append_little_endian(out, ~length & 0xffffU, 2);
    out += bytes;
    return out;
}

} // namespace

Result<std::string> compressed(std::string_view bytes)
{
    return Deflater(gzip).deflated(bytes, Z_FINISH);
}

Result<CompressedPieces> CompressedPieces::of(std::vector<std::string_view> const& pieces)
{
    CompressedPieces all;
    Deflater deflater(raw);
    for (std::string_view const piece : pieces) {
        std::string deflated;
        if (!piece.empty()) {
            TRY_ASSIGN(deflated, deflater.deflated(piece, Z_FULL_FLUSH));
        }
        all.pieces_.push_back({std::move(deflated), crc_of(piece), piece.size()});
    }
    return all;
}

std::string CompressedPieces::with(std::string_view word) const
{
    using namespace std::string_view_literals;
    constexpr std::string_view header = "\x1f\x8b\x08\0\0\0\0\0\0\x03"sv; // no name, no time, Unix
    constexpr std::string_view last_block = "\x03\0"sv;                   // empty, with fixed codes
    std::string const filling = stored_block(word);
    std::uint32_t const filling_crc = crc_of(word);
    std::string out(header);
    out.reserve(header.size() + bytes() + filling.size() * pieces_.size() + 16);
    std::uint32_t crc = 0;
    std::size_t length = 0;
    for (std::size_t i = 0; i < pieces_.size(); ++i) {
        if (i > 0) {
            out += filling;
            crc = crc_of_both(crc, filling_crc, word.size());
            length += word.size();
        }
        out += pieces_[i].deflated;
        crc = crc_of_both(crc, pieces_[i].crc, pieces_[i].length);
        length += pieces_[i].length;
    }
    out += last_block;
    append_little_endian(out, crc, 4);
    append_little_endian(out, static_cast<std::uint32_t>(length), 4);
    return out;
}

std::size_t CompressedPieces::bytes() const
{
    std::size_t sum = 0;
    for (Piece const& piece : pieces_) sum += piece.deflated.size();
    return sum;
}

} // namespace guidepin::web
