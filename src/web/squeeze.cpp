// SPDX-License-Identifier: Apache-2.0
#include "web/squeeze.hpp"

#include <zlib.h>

#include <stdexcept>

namespace guidepin::web {

std::string squeezed(std::string_view bytes)
{
    constexpr int level = 5, gzip_window = 15 + 16, memory = 8;
    z_stream stream{};
    if (deflateInit2(&stream, level, Z_DEFLATED, gzip_window, memory, Z_DEFAULT_STRATEGY) != Z_OK)
        throw std::runtime_error("no memory to compress a page");
    std::string out(deflateBound(&stream, bytes.size()), '\0');
    stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(bytes.data()));
    stream.avail_in = static_cast<uInt>(bytes.size());
    stream.next_out = reinterpret_cast<Bytef*>(out.data());
    stream.avail_out = static_cast<uInt>(out.size());
    int const code = deflate(&stream, Z_FINISH);
    out.resize(stream.total_out);
    deflateEnd(&stream);
    if (code != Z_STREAM_END) throw std::runtime_error("a page could not be compressed");
    return out;
}

} // namespace guidepin::web
