using System.Diagnostics;
using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Midi;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.Midi;

/// <summary>Our files, event for event, in three independent readers: npm midi-file 1.2.4, Debian's python3-mido, and NAudio.Midi's
/// strict mode. One process reads all files.</summary>
public sealed class MidiReferenceTests : IDisposable
{
    // Track, tick, status, then the event as the reader decodes it, in the form of Line below.
    private const string NodeScript = """
        const fs = require('fs'), { parseMidi } = require('midi-file');
        const text = new Map([['text', 1], ['trackName', 3], ['instrumentName', 4], ['lyrics', 5], ['marker', 6]]);
        const out = [];
        for (const file of fs.readFileSync(0, 'utf8').trim().split('\n')) {
          const midi = parseMidi(fs.readFileSync(file));
          out.push(`file ${file} ${midi.header.format} ${midi.header.ticksPerBeat} ${midi.tracks.length}`);
          midi.tracks.forEach((track, t) => {
            let tick = 0;
            for (const e of track) {
              tick += e.deltaTime;
              const at = `${t} ${tick} `;
              if (e.type === 'noteOn') out.push(at + `on ${e.channel} ${e.noteNumber} ${e.velocity}`);
              else if (e.type === 'noteOff') out.push(at + `off ${e.channel} ${e.noteNumber} ${e.velocity}`);
              else if (e.type === 'controller') out.push(at + `control ${e.channel} ${e.controllerType} ${e.value}`);
              else if (e.type === 'programChange') out.push(at + `program ${e.channel} ${e.programNumber}`);
              else if (text.has(e.type)) out.push(at + `text ${text.get(e.type)} ${Buffer.from(e.text, 'latin1').toString('hex')}`);
              else if (e.type === 'setTempo') out.push(at + `tempo ${e.microsecondsPerBeat}`);
              else if (e.type === 'timeSignature') out.push(at + `meter ${e.numerator} ${e.denominator} ${e.metronome} ${e.thirtyseconds}`);
              else if (e.type === 'keySignature') out.push(at + `key ${e.key} ${e.scale}`);
              else if (e.type === 'portPrefix') out.push(at + `port ${e.port}`);
              else if (e.type === 'endOfTrack') out.push(at + 'end');
              else out.push(at + 'other ' + e.type);
            }
          });
        }
        fs.writeSync(1, out.join('\n') + '\n');
        """;

    private const string PythonScript = """
        import sys, mido
        from mido.midifiles.meta import _key_signature_encode
        text = {'text': (1, 'text'), 'track_name': (3, 'name'), 'instrument_name': (4, 'name'), 'lyrics': (5, 'text'), 'marker': (6, 'text')}
        out = []
        for file in sys.stdin.read().split('\n'):
            if not file:
                continue
            midi = mido.MidiFile(file)
            out.append('file %s %d %d %d' % (file, midi.type, midi.ticks_per_beat, len(midi.tracks)))
            for t, track in enumerate(midi.tracks):
                tick = 0
                for e in track:
                    tick += e.time
                    at = '%d %d ' % (t, tick)
                    if e.type == 'note_on': out.append(at + 'on %d %d %d' % (e.channel, e.note, e.velocity))
                    elif e.type == 'note_off': out.append(at + 'off %d %d %d' % (e.channel, e.note, e.velocity))
                    elif e.type == 'control_change': out.append(at + 'control %d %d %d' % (e.channel, e.control, e.value))
                    elif e.type == 'program_change': out.append(at + 'program %d %d' % (e.channel, e.program))
                    elif e.type in text: out.append(at + 'text %d %s' % (text[e.type][0], getattr(e, text[e.type][1]).encode('latin1').hex()))
                    elif e.type == 'set_tempo': out.append(at + 'tempo %d' % e.tempo)
                    elif e.type == 'time_signature': out.append(at + 'meter %d %d %d %d' % (e.numerator, e.denominator, e.clocks_per_click, e.notated_32nd_notes_per_beat))
                    elif e.type == 'key_signature': out.append(at + 'key %d %d' % _key_signature_encode[e.key])
                    elif e.type == 'midi_port': out.append(at + 'port %d' % e.port)
                    elif e.type == 'end_of_track': out.append(at + 'end')
                    else: out.append(at + 'other ' + e.type)
        sys.stdout.write('\n'.join(out) + '\n')
        """;

    private readonly string _folder = Directory.CreateTempSubdirectory("groovelab-midi-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Fact]
    public void ReadBack_ByMidiFile_IsTheSameEventForEvent()
    {
        var node = References.RequireTool("node");
        var modules = Environment.GetEnvironmentVariable("GROOVELAB_NODE_MODULES") ?? "";
        References.Require(
            File.Exists(Path.Combine(modules, "midi-file", "package.json")), "GROOVELAB_NODE_MODULES does not name a node_modules folder with midi-file in it");
        Compare(node, ["-e", NodeScript], modules);
    }

    [Fact]
    public void ReadBack_ByMido_IsTheSameEventForEvent()
    {
        // Debian's package is for the system's own Python.
        const string Python = "/usr/bin/python3";
        References.Require(File.Exists(Python) && Directory.Exists("/usr/lib/python3/dist-packages/mido"), "Debian's python3-mido is not installed");
        Compare(Python, ["-c", PythonScript], "");
    }

    [Fact]
    public void Read_FilesThatMidoAccepts_HaveItsEvents()
    {
        // What 1.2.10 accepts of what the specification does not allow. Not running status across system exclusive events, which it takes for
        // more of them, nor bytes behind the end in a track, nor wrong counts of tracks.
        const string Header = "4D54686400000006000000010060";
        const string Note = "00903C40" + "60803C00";
        Dictionary<string, string> files = new()
        {
            ["no-end"] = Header + "4D54726B00000008" + Note,
            ["running"] = Header + "4D54726B00000010" + "00903C40" + "00FF010141" + "603C00" + "00FF2F00",
            ["behind"] = Header + "4D54726B0000000C" + Note + "00FF2F00" + "FFFFFF",
            ["sequences"] = "4D54686400000006000200010060" + "4D54726B0000000C" + Note + "00FF2F00",
        };
        const string Python = "/usr/bin/python3";
        References.Require(File.Exists(Python) && Directory.Exists("/usr/lib/python3/dist-packages/mido"), "Debian's python3-mido is not installed");
        var expected = new List<string>();
        var paths = new StringBuilder();
        foreach (var (name, hex) in files)
        {
            var path = Path.Combine(_folder, $"{name}.mid");
            File.WriteAllBytes(path, Convert.FromHexString(hex));
            paths.Append(path).Append('\n');
            var file = MidiFileReader.Read(path);
            Assert.NotEmpty(file.Warnings);
            expected.AddRange(Lines(path, file).Where(IsEvent));
        }

        Assert.Equal(expected, Answer(Python, ["-c", PythonScript], "", paths.ToString()).Where(IsEvent));

        static bool IsEvent(string line) => !line.StartsWith("file", StringComparison.Ordinal) && !line.EndsWith(" end", StringComparison.Ordinal);
    }

    [Fact]
    public void ReadBack_ByNAudioStrictly_HasAsManyNotesAndEvents()
    {
        foreach (var export in Exports.All)
        {
            using var stream = new MemoryStream(MidiFileWriter.ToBytes(export.Felt.File));
            var read = new NAudio.Midi.MidiFile(stream, strictChecking: true);
            Assert.Equal(export.Felt.File.Tracks.Count, read.Tracks);
            foreach (var (track, events) in export.Felt.File.Tracks.Zip(read.Events))
            {
                Assert.Equal(track.Events.Count + 1, events.Count);
                Assert.Equal(
                    track.Events.Where(item => item.IsNoteOn).Select(item => (item.Tick, (int)item.Data1, (int)item.Data2)),
                    events.OfType<NAudio.Midi.NoteOnEvent>().Select(note => (note.AbsoluteTime, note.NoteNumber, note.Velocity)));
            }
        }
    }

    private static IEnumerable<string> Lines(string path, MidiFile file)
    {
        yield return string.Create(CultureInfo.InvariantCulture, $"file {path} {file.Format} {file.Division.Ticks} {file.Tracks.Count}");
        foreach (var (t, track) in file.Tracks.Index())
        {
            foreach (var item in track.Events)
            {
                yield return string.Create(CultureInfo.InvariantCulture, $"{t} {item.Tick} {Line(item)}");
            }

            yield return string.Create(CultureInfo.InvariantCulture, $"{t} {track.EndTick} end");
        }
    }

    private static string Line(MidiEvent item)
    {
        var content = item.Content.Span;
        return item.Kind switch
        {
            0x80 => $"off {item.Channel} {item.Data1} {item.Data2}",
            0x90 => $"on {item.Channel} {item.Data1} {item.Data2}",
            0xB0 => $"control {item.Channel} {item.Data1} {item.Data2}",
            0xC0 => $"program {item.Channel} {item.Data1}",
            _ => item.Data1 switch
            {
                >= 1 and <= 7 => $"text {item.Data1} {Convert.ToHexStringLower(content)}",
                MetaType.Tempo => $"tempo {(content[0] << 16) | (content[1] << 8) | content[2]}",
                MetaType.TimeSignature => $"meter {content[0]} {1 << content[1]} {content[2]} {content[3]}",
                MetaType.KeySignature => $"key {unchecked((sbyte)content[0])} {content[1]}",
                MetaType.Port => $"port {content[0]}",
                _ => "unknown",
            },
        };
    }

    private void Compare(string command, string[] arguments, string modules)
    {
        var expected = new List<string>();
        var paths = new StringBuilder();
        foreach (var (i, export) in Exports.All.Index())
        {
            foreach (var (kind, file) in new[] { ("exact", export.Exact.File), ("felt", export.Felt.File) })
            {
                var path = Path.Combine(_folder, $"{i}-{kind}.mid");
                File.WriteAllBytes(path, MidiFileWriter.ToBytes(file));
                paths.Append(path).Append('\n');
                expected.AddRange(Lines(path, file));
            }
        }

        var lines = Answer(command, arguments, modules, paths.ToString());
        Assert.Equal(expected.Count, lines.Length);
        for (var i = 0; i < lines.Length; i++)
        {
            Assert.Equal(expected[i], lines[i]);
        }
    }

    private static string[] Answer(string command, string[] arguments, string modules, string paths)
    {
        var start = new ProcessStartInfo(command, arguments) { RedirectStandardInput = true, RedirectStandardOutput = true, UseShellExecute = false };
        start.Environment["NODE_PATH"] = modules;
        using var process = Process.Start(start)!;
        var output = process.StandardOutput.ReadToEndAsync(TestContext.Current.CancellationToken);
        process.StandardInput.Write(paths);
        process.StandardInput.Close();
        var lines = output.GetAwaiter().GetResult().TrimEnd('\n').Split('\n');
        process.WaitForExit();
        Assert.Equal(0, process.ExitCode);
        return lines;
    }
}
