using System.Numerics;
using System.Runtime.CompilerServices;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Voices that share a set of lanes, rendered together.</summary>
internal sealed unsafe class VoiceGroup
{
    private readonly Voice[] _voices = new Voice[VoiceLanes.Count];
    private readonly VoiceLanes _lanes = new();

    public VoiceGroup(VoiceContext context)
    {
        for (var lane = 0; lane < _voices.Length; lane++)
            _voices[lane] = new Voice(context, _lanes, lane);
    }

    /// <summary>The number of active voices.</summary>
    public int ActiveVoices => BitOperations.PopCount(_lanes.Active);

    /// <summary>The first idle voice, or null.</summary>
    public Voice? FirstFree
    {
        get
        {
            var lane = BitOperations.TrailingZeroCount(~_lanes.Active);
            return lane < VoiceLanes.Count ? _voices[lane] : null;
        }
    }

    /// <summary>A bit for each active voice.</summary>
    public uint ActiveLanes => _lanes.Active;

    /// <summary>The voice of a lane.</summary>
    public Voice this[int lane] => _voices[lane];

    /// <summary>Adds the next frames, all within one quantum, to the sums.</summary>
    [MethodImpl(HotCode.Compiled | MethodImplOptions.NoInlining)]
    public void Render(LaneKernel kernel, LaneBuffers buffers, int framesToBoundary, int frames, bool hasSends)
    {
        unchecked
        {
            var width = kernel.Width;
            var done = 0;
            while (done < frames && _lanes.Active != 0)
            {
                var count = frames - done;
                for (var left = _lanes.Active; left != 0; left &= left - 1)
                    count = Math.Min(count, _voices[BitOperations.TrailingZeroCount(left)].FramesPlanned(framesToBoundary - done));

                var active = _lanes.Active;
                // A group fills from its first lane on; its second half is often idle.
                var lanes = active >> (VoiceLanes.Count / 2) == 0 ? VoiceLanes.Count / 2 : VoiceLanes.Count;
                for (var lane = 0; lane < lanes; lane++)
                {
                    var row = buffers.Rows + (lane * LaneBuffers.RowLength);
                    if ((active & (1u << lane)) != 0)
                        _voices[lane].Read(row, count);
                    else
                        new Span<float>(row, count).Clear();
                }
                LaneTranspose.Turn(buffers.Rows, LaneBuffers.RowLength, buffers.Samples, count, lanes);
                kernel.Filter(buffers.Samples, _lanes.Fields, count, lanes);
                kernel.Mix(
                    buffers.Samples, _lanes.Fields + ((int)LaneField.Left * VoiceLanes.Count), buffers.Left + (done * width),
                    buffers.Right + (done * width), count, lanes);
                if (hasSends)
                    Send(kernel, buffers, done * width, count, lanes);
                for (var left = active; left != 0; left &= left - 1)
                    _voices[BitOperations.TrailingZeroCount(left)].Pass(count);
                done += count;
            }
        }
    }

    // Most sounds use the reverb and not the chorus; an effect without sends is skipped.
    private void Send(LaneKernel kernel, LaneBuffers buffers, int from, int frames, int lanes)
    {
        unchecked
        {
            var gains = _lanes.Fields + ((int)LaneField.Reverb * VoiceLanes.Count);
            var toReverb = IsSentTo(gains);
            var toChorus = IsSentTo(gains + VoiceLanes.Count);
            if (toReverb && toChorus)
                kernel.Mix(buffers.Samples, gains, buffers.Reverb + from, buffers.Chorus + from, frames, lanes);
            else if (toReverb)
                kernel.MixSingle(buffers.Samples, gains, buffers.Reverb + from, frames, lanes);
            else if (toChorus)
                kernel.MixSingle(buffers.Samples, gains + VoiceLanes.Count, buffers.Chorus + from, frames, lanes);
        }
    }

    // True if any lane has a gain, or a gain step two fields further on.
    private static bool IsSentTo(float* gain) => unchecked(
        !Blocks.AreZero(new ReadOnlySpan<float>(gain, VoiceLanes.Count))
        || !Blocks.AreZero(new ReadOnlySpan<float>(gain + (2 * VoiceLanes.Count), VoiceLanes.Count)));
}

/// <summary>Buffers for a quantum on its way through the lanes; one set serves all groups of a synthesizer.</summary>
internal sealed unsafe class LaneBuffers
{
    /// <summary>The distance between two voices' rows: more than a quantum and not a power of two, so that rows do not share cache sets.</summary>
    public const int RowLength = Quantum.Frames + 16;

    private const int WidestVector = 16;
    private const int RowsSize = VoiceLanes.Count * RowLength;
    private const int SamplesSize = VoiceLanes.Count * (Quantum.Frames + LaneTranspose.Step);
    private const int SumsSize = WidestVector * Quantum.Frames;

    private readonly float[] _all = Pinned.Floats(RowsSize + SamplesSize + (4 * SumsSize));

    public LaneBuffers()
    {
        Rows = Pinned.Address(_all);
        Samples = Rows + RowsSize;
        Left = Samples + SamplesSize;
        Right = Left + SumsSize;
        Reverb = Right + SumsSize;
        Chorus = Reverb + SumsSize;
    }

    /// <summary>A row of frames for each voice.</summary>
    public float* Rows { get; }

    /// <summary>A row of voices for each frame.</summary>
    public float* Samples { get; }

    /// <summary>Sums by lane, a vector for each frame; the same for the next three.</summary>
    public float* Left { get; }

    public float* Right { get; }

    public float* Reverb { get; }

    public float* Chorus { get; }

    /// <summary>Clears the sums of some frames.</summary>
    public void Clear(int frames, int width)
    {
        new Span<float>(Left, frames * width).Clear();
        new Span<float>(Right, frames * width).Clear();
        new Span<float>(Reverb, frames * width).Clear();
        new Span<float>(Chorus, frames * width).Clear();
    }
}
