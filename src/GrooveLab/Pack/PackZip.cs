using System.IO.Compression;
using GrooveLab.Files;

namespace GrooveLab.Pack;

/// <summary>The archive of a pack: the same bytes from the same files, in the order of their names, without dates.</summary>
internal static class PackZip
{
    // The first date that a zip file can have (PKWARE, APPNOTE.TXT 4.4.6: dates of MS-DOS).
    private static readonly DateTimeOffset NoDate = new(1980, 1, 1, 0, 0, 0, TimeSpan.Zero);

    // A regular file that all may read and its owner may write, in the upper half, where Unix has it.
    private const int Readable = unchecked(0x81A4 << 16);

    private static readonly string[] Compressed = [".opus", ".flac", ".mxl"];

    /// <summary>Writes the archive.</summary>
    /// <param name="archive">Its file.</param>
    /// <param name="folderName">The folder that the archive contains.</param>
    /// <param name="files">The files: the path in the pack, and the full path.</param>
    /// <param name="cancellation">Cancels.</param>
    /// <exception cref="FileRefusedException">It cannot be written.</exception>
    public static void Write(string archive, string folderName, IEnumerable<(string Path, string Whole)> files, CancellationToken cancellation)
    {
        DurableFile.Write(archive, stream =>
        {
            using var zip = new ZipArchive(stream, ZipArchiveMode.Create, leaveOpen: true);
            foreach (var (path, whole) in files.OrderBy(file => file.Path, StringComparer.Ordinal))
            {
                cancellation.ThrowIfCancellationRequested();
                var isCompressed = Compressed.Contains(Path.GetExtension(path), StringComparer.OrdinalIgnoreCase);
                var entry = zip.CreateEntry($"{folderName}/{path}", isCompressed ? CompressionLevel.NoCompression : CompressionLevel.Optimal);
                entry.LastWriteTime = NoDate;
                entry.ExternalAttributes = Readable;
                using var from = File.OpenRead(whole);
                using var to = entry.Open();
                from.CopyTo(to);
            }
        }).ThrowIfRefused();
    }
}
