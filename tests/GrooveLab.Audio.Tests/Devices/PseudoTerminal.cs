using System.Runtime.InteropServices;

namespace GrooveLab.Audio.Tests.Devices;

/// <summary>A pseudo-terminal whose far end stands for a MIDI device.</summary>
internal sealed class PseudoTerminal : IDisposable
{
    private const int ReadWrite = 2;
    private const int NoTerminal = 0x100;
    private const int NonBlocking = 0x800;
    private int _ours;

    public PseudoTerminal()
    {
        _ours = posix_openpt(ReadWrite | NoTerminal | NonBlocking);
        Assert(grantpt(_ours));
        Assert(unlockpt(_ours));
        Path = Marshal.PtrToStringUTF8(ptsname(_ours))!;
    }

    public string Path { get; }

    public byte[] Read()
    {
        var bytes = new byte[4096];
        var count = (int)read(_ours, bytes, (nuint)bytes.Length);
        return bytes[..Math.Max(0, count)];
    }

    public void Write(params byte[] bytes) => Assert(write(_ours, bytes, (nuint)bytes.Length) == bytes.Length ? 0 : -1);

    public void Dispose()
    {
        if (_ours >= 0)
        {
            _ = close(_ours);
            _ours = -1;
        }
    }

    private static void Assert(int result) => Xunit.Assert.Equal(0, result);

#pragma warning disable SYSLIB1054 // Generated code would need unsafe blocks in the test project.
    [DllImport("libc")]
    private static extern int posix_openpt(int flags);

    [DllImport("libc")]
    private static extern int grantpt(int file);

    [DllImport("libc")]
    private static extern int unlockpt(int file);

    [DllImport("libc")]
    private static extern nint ptsname(int file);

    [DllImport("libc")]
    private static extern nint read(int file, byte[] bytes, nuint count);

    [DllImport("libc")]
    private static extern nint write(int file, byte[] bytes, nuint count);

    [DllImport("libc")]
    private static extern int close(int file);
#pragma warning restore SYSLIB1054
}
