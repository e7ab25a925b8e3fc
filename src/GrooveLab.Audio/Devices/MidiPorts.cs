using System.Globalization;
using System.Runtime.Versioning;
using NAudio;
using NAudio.Midi;

namespace GrooveLab.Audio.Devices;

/// <summary>A MIDI port of the system.</summary>
/// <param name="Number">Its number in the list, from 1.</param>
/// <param name="Name">Its name.</param>
/// <param name="Path">On Linux its device; on Windows its number there.</param>
/// <param name="Sends">Whether the program can send to it.</param>
/// <param name="Receives">Whether the program can receive from it.</param>
public sealed record MidiPort(int Number, string Name, string Path, bool Sends, bool Receives);

/// <summary>The MIDI ports of the system.</summary>
/// <remarks>
/// Linux: raw MIDI, <c>/dev/snd/midiC*D*</c>, and any character device by its path. Windows: WinMM by NAudio; written from its documentation,
/// compiled, but never run, for lack of a Windows machine. macOS: none.
/// </remarks>
public static class MidiPorts
{
    private const string Folder = "/dev/snd";
    private const string Sounds = "/proc/asound";

    /// <summary>Why this system has no ports; null if it may have some.</summary>
    public static string? Unsupported => OperatingSystem.IsLinux() || OperatingSystem.IsWindows()
        ? null
        : "MIDI ports are offered on Linux and Windows only; 'groovelab export' writes a MIDI file instead";

    /// <summary>All ports, numbered in one order.</summary>
    public static IReadOnlyList<MidiPort> List() =>
        OperatingSystem.IsLinux() ? RawPorts(Folder, Sounds) : OperatingSystem.IsWindows() ? WindowsPorts() : [];

    /// <summary>Finds a port by its number, a part of its name, or its path.</summary>
    /// <param name="named">What was typed.</param>
    /// <param name="sends">True for a port to send to, false for one to receive from.</param>
    /// <exception cref="MidiPortException">None, or more than one.</exception>
    public static MidiPort Find(string named, bool sends) => Find(named, sends, List());

    /// <summary>Opens a port to send to.</summary>
    /// <exception cref="MidiPortException">It cannot be opened.</exception>
    public static IMidiOut OpenOut(MidiPort port) =>
        OperatingSystem.IsLinux() ? RawMidi.OpenOut(port.Path)
        : OperatingSystem.IsWindows() ? WindowsMidiOut.Open(port)
        : throw new MidiPortException(Unsupported!, isMissing: true);

    /// <summary>Opens a port to receive from.</summary>
    /// <exception cref="MidiPortException">It cannot be opened.</exception>
    public static IMidiIn OpenIn(MidiPort port) =>
        OperatingSystem.IsLinux() ? RawMidi.OpenIn(port.Path)
        : OperatingSystem.IsWindows() ? WindowsMidiIn.Open(port)
        : throw new MidiPortException(Unsupported!, isMissing: true);

    internal static MidiPort Find(string named, bool sends, IReadOnlyList<MidiPort> all)
    {
        if (Unsupported is { } why)
        {
            throw new MidiPortException(why, isMissing: true);
        }

        if (OperatingSystem.IsLinux() && named.Contains('/', StringComparison.Ordinal))
        {
            return all.FirstOrDefault(port => port.Path == named) ?? new MidiPort(0, named, named, Sends: true, Receives: true);
        }

        var usable = all.Where(port => sends ? port.Sends : port.Receives).ToList();
        MidiPort[] found = int.TryParse(named, NumberStyles.None, CultureInfo.InvariantCulture, out var number)
            ? [.. usable.Where(port => port.Number == number)]
            : [.. usable.Where(port => port.Name.Contains(named, StringComparison.OrdinalIgnoreCase))];
        if (found.Length == 1)
        {
            return found[0];
        }

        var list = usable.Count == 0
            ? "there is none" + (OperatingSystem.IsLinux() ? "; connect one, or give the path of its device" : "; connect one")
            : "ports: " + string.Join(", ", usable.Select(port => string.Create(CultureInfo.InvariantCulture, $"{port.Number} {port.Name}")));
        var what = sends ? "MIDI port to send to" : "MIDI port to receive from";
        throw new MidiPortException(
            found.Length == 0 ? $"no {what} is called '{named}'; {list}" : $"'{named}' names more than one {what}; {list}", isMissing: true);
    }

    /// <summary>The raw MIDI ports of a Linux system, from its folders.</summary>
    internal static IReadOnlyList<MidiPort> RawPorts(string folder, string sounds)
    {
        if (!Directory.Exists(folder))
        {
            return [];
        }

        var ports = new List<MidiPort>();
        foreach (var path in Directory.EnumerateFiles(folder, "midiC*D*").Order(StringComparer.Ordinal))
        {
            var (name, sends, receives) = Described(Path.GetFileName(path), sounds);
            ports.Add(new MidiPort(ports.Count + 1, name, path, sends, receives));
        }

        return ports;
    }

    // /proc/asound/card1/midi0 has the name in its first line, and "Output 0" and "Input 0" for the directions.
    private static (string Name, bool Sends, bool Receives) Described(string file, string sounds)
    {
        var parts = file["midiC".Length..].Split('D');
        try
        {
            var lines = File.ReadAllLines(Path.Combine(sounds, "card" + parts[0], "midi" + parts[1]));
            var sends = lines.Any(line => line.StartsWith("Output", StringComparison.Ordinal));
            var receives = lines.Any(line => line.StartsWith("Input", StringComparison.Ordinal));
            var name = lines.Length > 0 && lines[0].Trim() is { Length: > 0 } first ? first : file;
            return sends || receives ? (name, sends, receives) : (name, true, true);
        }
        catch (Exception failure) when (failure is IOException or UnauthorizedAccessException)
        {
            // Without the description the port works all the same.
            return (file, true, true);
        }
    }

    [SupportedOSPlatform("windows")]
    private static List<MidiPort> WindowsPorts()
    {
        var ports = new List<MidiPort>();
        for (var device = 0; device < MidiOut.NumberOfDevices; device++)
        {
            ports.Add(new MidiPort(
                ports.Count + 1, NameOf(() => MidiOut.DeviceInfo(device).ProductName), device.ToString(CultureInfo.InvariantCulture), Sends: true, Receives: false));
        }

        for (var device = 0; device < MidiIn.NumberOfDevices; device++)
        {
            ports.Add(new MidiPort(
                ports.Count + 1, NameOf(() => MidiIn.DeviceInfo(device).ProductName), device.ToString(CultureInfo.InvariantCulture), Sends: false, Receives: true));
        }

        return ports;
    }

    private static string NameOf(Func<string> ask)
    {
        try
        {
            return ask();
        }
        catch (MmException)
        {
            return "unnamed";
        }
    }
}
