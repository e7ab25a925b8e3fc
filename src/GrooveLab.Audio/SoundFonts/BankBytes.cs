using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// The bytes of a bank: an open file, read by copying, or a pinned array. The file is not mapped: a mapped file that somebody cuts ends
/// the program at the next read. The collector closes or frees it when the bank is gone.
/// </summary>
internal sealed unsafe class BankBytes
{
    // Vectors are read some points past the last one, which may be the end of the data.
    private const int Margin = 32;

    private readonly string _name;
    private readonly SafeFileHandle? _file;
    private readonly DateTime _written;
    private readonly byte[]? _pinned;

    private BankBytes(string name, SafeFileHandle file)
    {
        _name = name;
        _file = file;
        Length = RandomAccess.GetLength(file);
        _written = File.GetLastWriteTimeUtc(file);
    }

    private BankBytes(string name, byte[] pinned, int length)
    {
        _name = name;
        _pinned = pinned;
        Length = length;
    }

    public long Length { get; }

    /// <summary>Whether the bytes are in memory, so that <see cref="Address"/> may be used.</summary>
    public bool IsInMemory => _pinned is not null;

    /// <summary>Opens a file, through links if it is one.</summary>
    /// <param name="path">The file.</param>
    /// <param name="name">The bank's name in messages.</param>
    /// <exception cref="SoundFontException">It cannot be opened.</exception>
    public static BankBytes Open(string path, string name)
    {
        try
        {
            // To open a pipe would wait for its writer; it has no length.
            if ((File.ResolveLinkTarget(path, returnFinalTarget: true) ?? new FileInfo(path)) is FileInfo { Exists: true, Length: 0 })
                return Copy([], name);
            return new BankBytes(name, File.OpenHandle(path, share: FileShare.ReadWrite | FileShare.Delete, options: FileOptions.RandomAccess));
        }
        catch (Exception e) when (e is FileNotFoundException or DirectoryNotFoundException && new FileInfo(path).LinkTarget is { } target)
        {
            throw new SoundFontException(name, $"it is a link to {target}, which does not exist", e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new SoundFontException(name, $"the file cannot be read ({e.Message})", e);
        }
    }

    /// <summary>Copies data into memory that the collector does not move.</summary>
    public static BankBytes Copy(ReadOnlySpan<byte> data, string name)
    {
        var pinned = GC.AllocateUninitializedArray<byte>(data.Length + Margin, pinned: true);
        data.CopyTo(pinned);
        pinned.AsSpan(data.Length).Clear();
        return new BankBytes(name, pinned, data.Length);
    }

    /// <summary>Reads some bytes; offset and length must lie inside.</summary>
    /// <exception cref="SoundFontException">The file cannot be read, or has been cut.</exception>
    public void Read(long offset, Span<byte> into)
    {
        if (offset < 0 || offset > Length - into.Length)
            throw new ArgumentOutOfRangeException(nameof(offset));
        if (_pinned is not null)
        {
            _pinned.AsSpan((int)offset, into.Length).CopyTo(into);
            return;
        }
        try
        {
            while (!into.IsEmpty)
            {
                var count = RandomAccess.Read(_file!, into, offset);
                if (count == 0)
                    throw Changed();
                into = into[count..];
                offset += count;
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new SoundFontException(_name, $"the file cannot be read ({e.Message})", e);
        }
    }

    /// <inheritdoc cref="Read(long, Span{byte})"/>
    public byte[] Read(long offset, int length)
    {
        var read = new byte[length];
        Read(offset, read);
        return read;
    }

    /// <summary>Makes sure that the file is still the one whose tables were read.</summary>
    /// <exception cref="SoundFontException">It has been cut or written since.</exception>
    public void CheckUnchanged()
    {
        if (_file is null)
            return;
        try
        {
            if (RandomAccess.GetLength(_file) == Length && File.GetLastWriteTimeUtc(_file) == _written)
                return;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new SoundFontException(_name, $"the file cannot be read ({e.Message})", e);
        }
        throw Changed();
    }

    /// <summary>The address of a byte in memory; valid as long as this object is reachable.</summary>
    public byte* Address(long offset)
    {
        if (_pinned is null || offset < 0 || offset > Length)
            throw new ArgumentOutOfRangeException(nameof(offset));
        return (byte*)Marshal.UnsafeAddrOfPinnedArrayElement(_pinned, 0) + offset;
    }

    private SoundFontException Changed() => new(_name, "the file has changed since it was opened");
}
