using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFiles;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Exchange.Midi;
using GrooveLab.Inputs;
using GrooveLab.Music.Bars;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary>The options for rendering a MIDI file.</summary>
internal sealed record MidiRenderSettings(int SampleRate, double TailSeconds, double LevelDecibels, bool Dry, SoundFileOptions File);

/// <summary>Renders a MIDI file to a sound file: tick 0 is frame 0, every event is on its frame, and a tail follows.</summary>
internal static class MidiRendering
{
    // At the usual volume of 100, a part of a file is as loud as the same part of a chart.
    private const double MasterDecibels = Renderer.DefaultMasterDecibels + 4.15;

    /// <summary>Whether a file has the name or the first bytes of a MIDI file.</summary>
    public static bool IsMidi(string path)
    {
        if (path == StandardInput.Word)
        {
            return IsSign(StandardInput.Bytes);
        }

        if (Path.GetExtension(path).ToLowerInvariant() is ".mid" or ".midi" or ".smf" or ".kar" or ".rmi")
        {
            return true;
        }

        if (!File.Exists(path))
        {
            return false;
        }

        using var stream = File.OpenRead(path);
        Span<byte> sign = stackalloc byte[12];
        sign = sign[..stream.ReadAtLeast(sign, sign.Length, throwOnEndOfStream: false)];
        return IsSign(sign);
    }

    /// <summary>Reads a file and lists on standard error what is wrong in it, or ends the command with its error.</summary>
    public static MidiFile Read(string path)
    {
        if (Directory.Exists(path))
        {
            throw CommandFailure.BadInput($"{path} is a folder; name a file");
        }

        if (path != StandardInput.Word && !File.Exists(path))
        {
            throw CommandFailure.BadInput($"{path}: file not found");
        }

        try
        {
            var file = path == StandardInput.Word ? MidiFileReader.Parse(StandardInput.Bytes, StandardInput.Name) : MidiFileReader.Read(path);
            foreach (var warning in file.Warnings)
            {
                Console.Error.WriteLine($"groovelab: {StandardInput.NameOf(path)}: {warning}");
            }

            return file;
        }
        catch (MidiFileException problem)
        {
            throw CommandFailure.BadInput(problem.Message);
        }
    }

    /// <summary>Renders, and lists on standard error which sounds replace missing ones.</summary>
    /// <param name="file">The file's content.</param>
    /// <param name="source">The file's name, for messages.</param>
    /// <param name="path">The file to write.</param>
    /// <param name="bank">The bank.</param>
    /// <param name="settings">How to render it.</param>
    public static RenderedFile Render(MidiFile file, string source, string path, SoundFontBank bank, MidiRenderSettings settings)
    {
        var rate = settings.SampleRate;
        var timeline = new MidiTimeline(file);
        var (events, remarks) = MidiSounds.For(bank, timeline.ChannelEvents(rate));
        foreach (var remark in remarks)
        {
            Console.Error.WriteLine("groovelab: " + remark);
        }

        if (!Array.Exists(events, item => item.Event.Kind == ChannelEventKind.NoteOn))
        {
            Console.Error.WriteLine($"groovelab: {StandardInput.NameOf(source)}: the file has no notes");
        }

        var last = events.Length == 0 ? 0 : events[^1].Frame;
        var frames = Math.Max(last, timeline.FrameAt(timeline.EndTick, rate)) + (long)Math.Round(settings.TailSeconds * rate);
        var most = 0;
        foreach (var item in events)
        {
            most = Math.Max(most, item.Event.Channel);
        }

        try
        {
            var rendered = Report.Progress("rendering " + Path.GetFileName(path), (progress, stop) =>
            {
                MidiSounds.Prepare(bank, events, stop);
                var synth = Banks.Synth(bank, rate, Math.Clamp(most + 1, MidiTimeline.ChannelsOfPort, PartChannels.MostChannels), settings.Dry);
                var limiter = new Limiter(rate);
                var player = new ChannelEventPlayer(
                    synth,
                    events,
                    (float)Math.Pow(10, (MasterDecibels + settings.LevelDecibels) / 20));
                SoundFile.Write(path, new LimitedMix(player, limiter), frames, settings.File, new FrameShare(progress, frames), stop);
                return new RenderedFile(path, frames, rate, 20 * Math.Log10(player.Peak), Health.OfMessages(synth, limiter));
            });
            Banks.TellLeftOut(bank);
            if (rendered.PeakDecibels > Limiter.UnheardDecibels)
            {
                Console.Error.WriteLine(
                    $"groovelab: the file peaks {rendered.PeakDecibels:0} dB above full scale, so the limiter reduces it; --level -{Math.Ceiling(rendered.PeakDecibels):0} leaves the peaks unchanged");
            }

            return rendered;
        }
        catch (SoundFontException problem)
        {
            throw CommandFailure.BadInput(problem.Message);
        }
    }

    private static bool IsSign(ReadOnlySpan<byte> bytes) =>
        bytes.StartsWith("MThd"u8) || (bytes.StartsWith("RIFF"u8) && bytes.Length >= 12 && bytes[8..12].SequenceEqual("RMID"u8));

    private sealed class FrameShare(IProgress<double> progress, long frames) : IProgress<long>
    {
        public void Report(long value) => progress.Report((double)value / frames);
    }
}
