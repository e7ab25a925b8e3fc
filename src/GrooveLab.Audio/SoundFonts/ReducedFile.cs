using System.Buffers.Binary;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// The same bank without its sound: the version, a name, the nine tables and an empty sample chunk. A parser that reads whole
/// chunks into memory then reads only kilobytes.
/// </summary>
internal static class ReducedFile
{
    private const int HeaderSize = 8;
    private const int FormSize = 4;

    /// <summary>Builds the file in memory of exactly its size, because the tables of a large bank take megabytes.</summary>
    public static byte[] Make(BankBytes bytes, RiffLayout layout, IReadOnlyDictionary<string, byte[]> hydra, string bankName)
    {
        var version = layout["ifil"];
        if (version.Length < 4)
            throw new SoundFontException($"{bankName}: ifil", $"should have 4 bytes, but has {version.Length}");
        var tables = FormSize;
        foreach (var name in RiffLayout.HydraNames)
            tables += ChunkSize(hydra[name].Length);
        var info = FormSize + ChunkSize(4) + ChunkSize(8) + ChunkSize(6);
        var sound = FormSize + ChunkSize(0);

        var file = new byte[HeaderSize + FormSize + ChunkSize(info) + ChunkSize(sound) + ChunkSize(tables)];
        var rest = file.AsSpan();
        WriteHeader(ref rest, "RIFF"u8, file.Length - HeaderSize);
        Write(ref rest, "sfbk"u8);
        WriteHeader(ref rest, "LIST"u8, info);
        Write(ref rest, "INFO"u8);
        WriteChunk(ref rest, "ifil"u8, bytes.Read(version.Offset, 4));
        WriteChunk(ref rest, "isng"u8, "EMU8000\0"u8);
        WriteChunk(ref rest, "INAM"u8, "Bank\0\0"u8);
        WriteHeader(ref rest, "LIST"u8, sound);
        Write(ref rest, "sdta"u8);
        WriteChunk(ref rest, "smpl"u8, []);
        WriteHeader(ref rest, "LIST"u8, tables);
        Write(ref rest, "pdta"u8);
        Span<byte> letters = stackalloc byte[FormSize];
        foreach (var name in RiffLayout.HydraNames)
        {
            System.Text.Encoding.Latin1.GetBytes(name, letters);
            WriteChunk(ref rest, letters, hydra[name]);
        }
        return file;
    }

    /// <summary>The size of header, data and the padding byte that makes it even.</summary>
    private static int ChunkSize(int length) => HeaderSize + length + (length & 1);

    private static void WriteChunk(ref Span<byte> rest, scoped ReadOnlySpan<byte> name, scoped ReadOnlySpan<byte> data)
    {
        WriteHeader(ref rest, name, data.Length);
        Write(ref rest, data);
        rest = rest[(data.Length & 1)..];
    }

    private static void WriteHeader(ref Span<byte> rest, scoped ReadOnlySpan<byte> name, int length)
    {
        Write(ref rest, name);
        BinaryPrimitives.WriteInt32LittleEndian(rest, length);
        rest = rest[4..];
    }

    private static void Write(ref Span<byte> rest, scoped ReadOnlySpan<byte> data)
    {
        data.CopyTo(rest);
        rest = rest[data.Length..];
    }
}
