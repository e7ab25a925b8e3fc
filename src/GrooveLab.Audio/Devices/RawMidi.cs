using System.Globalization;
using System.Runtime.InteropServices;
using System.Runtime.Versioning;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Raw MIDI on Linux: the bytes of a character device, read and written without ever waiting in the system. A terminal, such as a
/// pseudo-terminal or a serial line, is switched to raw bytes.
/// </summary>
[SupportedOSPlatform("linux")]
internal sealed unsafe partial class RawMidi : IMidiOut, IMidiIn
{
    // fcntl.h and poll.h of Linux, the same on x86 and ARM.
    private const int ReadOnly = 0;
    private const int WriteOnly = 1;
    private const int NoTerminal = 0x100;
    private const int NonBlocking = 0x800;
    private const int CloseOnExec = 0x80000;
    private const int FromHere = 1;
    private const short PollIn = 1;

    private const int NotPermitted = 1;
    private const int NoEntry = 2;
    private const int Interrupted = 4;
    private const int NoSuchDevice = 6;
    private const int TryAgain = 11;
    private const int AccessDenied = 13;
    private const int Busy = 16;
    private const int NoDevice = 19;

    // SNDRV_RAWMIDI_IOCTL_DROP of sound/asound.h; other devices refuse it.
    private const nuint DropOutput = 0x40045730;

    // struct termios is smaller on every Linux.
    private const int TerminalSettingsBytes = 256;

    private readonly string _path;
    private int _file;

    private RawMidi(string path, int file) => (_path, _file) = (path, file);

    public static IMidiOut OpenOut(string path) => Open(path, WriteOnly);

    public static IMidiIn OpenIn(string path) => Open(path, ReadOnly);

    public int Write(ReadOnlySpan<byte> bytes)
    {
        fixed (byte* first = bytes)
        {
            var written = WriteBytes(_file, first, (nuint)bytes.Length);
            if (written >= 0)
            {
                return (int)written;
            }
        }

        var error = Marshal.GetLastPInvokeError();
        return error is TryAgain or Interrupted ? 0 : throw Gone(error);
    }

    public int Read(Span<byte> bytes, TimeSpan patience)
    {
        var wait = new PollEntry { File = _file, Asked = PollIn };
        var ready = Poll(&wait, 1, (int)patience.TotalMilliseconds);
        if (ready == 0)
        {
            return 0;
        }

        if (ready < 0)
        {
            var problem = Marshal.GetLastPInvokeError();
            return problem == Interrupted ? 0 : throw Gone(problem);
        }

        fixed (byte* first = bytes)
        {
            var read = ReadBytes(_file, first, (nuint)bytes.Length);
            if (read > 0)
            {
                return (int)read;
            }

            var error = read == 0 ? NoDevice : Marshal.GetLastPInvokeError();
            return error is TryAgain or Interrupted ? 0 : throw Gone(error);
        }
    }

    public void Discard()
    {
        var stream = 0;
        _ = Control(_file, DropOutput, &stream);
    }

    public void Dispose()
    {
        var file = Interlocked.Exchange(ref _file, -1);
        if (file >= 0)
        {
            _ = Close(file);
        }
    }

    private static RawMidi Open(string path, int way)
    {
        if (IsOwnTerminal(path))
        {
            throw new MidiPortException($"{path} is the terminal of this program, not a MIDI port", isMissing: true);
        }

        var file = OpenFile(path, way | NoTerminal | NonBlocking | CloseOnExec);
        if (file < 0)
        {
            throw Refused(path, Marshal.GetLastPInvokeError());
        }

        // A place can be set in files only, and in /dev/null.
        if (Seek(file, 0, FromHere) >= 0 && !path.StartsWith("/dev/", StringComparison.Ordinal))
        {
            _ = Close(file);
            throw new MidiPortException($"{path} is a file, not a MIDI port; 'groovelab devices' lists the ports", isMissing: true);
        }

        if (IsTerminal(file) == 1)
        {
            MakeRaw(file);
        }

        return new RawMidi(path, file);
    }

    // Raw bytes on the terminal on which the screen is drawn would destroy it.
    private static bool IsOwnTerminal(string path)
    {
        if (path == "/dev/tty")
        {
            return true;
        }

        for (var file = 0; file <= 2; file++)
        {
            try
            {
                if (new FileInfo(string.Create(CultureInfo.InvariantCulture, $"/proc/self/fd/{file}")).LinkTarget == path && path != "/dev/null")
                {
                    return true;
                }
            }
            catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
            {
                // A closed stream.
            }
        }

        return false;
    }

    // Otherwise a terminal adds carriage returns to pan messages, which have the number of a new line.
    private static void MakeRaw(int file)
    {
        var settings = stackalloc byte[TerminalSettingsBytes];
        if (TerminalSettings(file, settings) == 0)
        {
            MakeSettingsRaw(settings);
            _ = SetTerminalSettings(file, 0, settings);
        }
    }

    private static MidiPortException Refused(string path, int error) => error switch
    {
        NoEntry or NoSuchDevice or NoDevice => new MidiPortException($"there is no MIDI port {path}; 'groovelab devices' lists them", isMissing: true),
        AccessDenied or NotPermitted => new MidiPortException($"the MIDI port {path} may not be opened by this user; on most systems the group 'audio' may", isMissing: false),
        Busy or TryAgain => new MidiPortException($"the MIDI port {path} is used by another program; close that one", isMissing: false),
        _ => new MidiPortException($"the MIDI port {path} cannot be opened: {Marshal.GetPInvokeErrorMessage(error)}", isMissing: false),
    };

    private IOException Gone(int error) => new($"the MIDI port {_path} is gone: {Marshal.GetPInvokeErrorMessage(error)}");

    private struct PollEntry
    {
        public int File;
        public short Asked;
        public short Got;
    }

    [LibraryImport("libc", EntryPoint = "open", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int OpenFile(string path, int flags);

    [LibraryImport("libc", EntryPoint = "close")]
    private static partial int Close(int file);

    [LibraryImport("libc", EntryPoint = "write", SetLastError = true)]
    private static partial nint WriteBytes(int file, byte* bytes, nuint count);

    [LibraryImport("libc", EntryPoint = "read", SetLastError = true)]
    private static partial nint ReadBytes(int file, byte* bytes, nuint count);

    [LibraryImport("libc", EntryPoint = "poll", SetLastError = true)]
    private static partial int Poll(PollEntry* entries, nuint count, int milliseconds);

    [LibraryImport("libc", EntryPoint = "ioctl")]
    private static partial int Control(int file, nuint request, int* argument);

    [LibraryImport("libc", EntryPoint = "lseek")]
    private static partial long Seek(int file, long offset, int from);

    [LibraryImport("libc", EntryPoint = "isatty")]
    private static partial int IsTerminal(int file);

    [LibraryImport("libc", EntryPoint = "tcgetattr")]
    private static partial int TerminalSettings(int file, byte* settings);

    [LibraryImport("libc", EntryPoint = "cfmakeraw")]
    private static partial void MakeSettingsRaw(byte* settings);

    [LibraryImport("libc", EntryPoint = "tcsetattr")]
    private static partial int SetTerminalSettings(int file, int when, byte* settings);
}
