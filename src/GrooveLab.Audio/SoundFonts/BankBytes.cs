using System.IO.MemoryMappedFiles;
using System.Runtime.InteropServices;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>
/// The bytes of a bank at a fixed address, mapped from a file or in a pinned array. The collector frees them when the last bank,
/// synthesizer or voice that reads them is gone, so a bank can be replaced while its notes still sound.
/// </summary>
internal sealed unsafe class BankBytes
{
    // The view or the array that owns the memory; held only to keep it alive.
    private readonly object _owner;
    private readonly byte* _start;

    private BankBytes(MemoryMappedViewAccessor view, long length)
    {
        _owner = view;
        // The view's own handle unmaps when it is collected; a counted pointer would need a second finalizer.
        _start = (byte*)view.SafeMemoryMappedViewHandle.DangerousGetHandle() + view.PointerOffset;
        Length = length;
    }

    private BankBytes(byte[] pinned)
    {
        _owner = pinned;
        _start = (byte*)Marshal.UnsafeAddrOfPinnedArrayElement(pinned, 0);
        Length = pinned.Length;
    }

    public long Length { get; }

    /// <summary>Maps a whole file. The caller sees the file system's own exceptions.</summary>
    public static BankBytes Map(string path)
    {
        var length = new FileInfo(path).Length;
        if (length == 0)
            return Copy([]);
        using var file = MemoryMappedFile.CreateFromFile(path, FileMode.Open, mapName: null, capacity: 0, MemoryMappedFileAccess.Read);
        return new BankBytes(file.CreateViewAccessor(0, length, MemoryMappedFileAccess.Read), length);
    }

    /// <summary>Copies data into memory that the collector does not move.</summary>
    public static BankBytes Copy(ReadOnlySpan<byte> data)
    {
        var pinned = GC.AllocateUninitializedArray<byte>(data.Length, pinned: true);
        data.CopyTo(pinned);
        return new BankBytes(pinned);
    }

    /// <summary>A view of some bytes; offset and length must lie inside.</summary>
    public ReadOnlySpan<byte> Slice(long offset, int length)
    {
        if (offset < 0 || length < 0 || offset > Length - length)
            throw new ArgumentOutOfRangeException(nameof(offset));
        return new ReadOnlySpan<byte>(_start + offset, length);
    }

    /// <summary>The address of a byte inside; valid as long as this object is reachable.</summary>
    public byte* Address(long offset)
    {
        if (offset < 0 || offset > Length)
            throw new ArgumentOutOfRangeException(nameof(offset));
        return _start + offset;
    }

    /// <summary>Keeps the memory alive up to this call.</summary>
    public void KeepAlive() => GC.KeepAlive(_owner);
}
