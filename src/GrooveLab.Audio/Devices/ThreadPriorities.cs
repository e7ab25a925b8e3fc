using System.Globalization;
using System.Runtime.InteropServices;

namespace GrooveLab.Audio.Devices;

/// <summary>
/// Real-time priority for the calling thread on Linux. <see cref="Thread.Priority"/> has no effect there.
/// </summary>
internal static unsafe partial class ThreadPriorities
{
    // Below sound servers, which commonly run at 5 to 9 and up: they feed the device that we feed them for.
    private const int Priority = 5;

    // sched.h of Linux. Round robin, so that two such threads of one priority still share a core.
    private const int RoundRobin = 2;
    private const int NotInherited = 0x40000000;

    private const int OneThread = 0;
    private const int Preferred = -10;

    // sched_param is one int with glibc, and an int with reserved room behind it with musl.
    private const int ParameterInts = 16;

    /// <summary>
    /// Asks for round-robin scheduling for the rest of this thread's life; threads that it starts do not inherit it. False where the
    /// system or the user's limits do not allow it.
    /// </summary>
    public static bool TryRaiseCurrent()
    {
        if (!OperatingSystem.IsLinux())
        {
            return false;
        }

        try
        {
            var parameters = stackalloc int[ParameterInts];
            new Span<int>(parameters, ParameterInts).Clear();
            parameters[0] = Priority;
            return SetSchedulingParameters(Self(), RoundRobin | NotInherited, parameters) == 0;
        }
        catch (EntryPointNotFoundException)
        {
            return false;
        }
        catch (DllNotFoundException)
        {
            return false;
        }
    }

    /// <summary>
    /// Asks that all threads of this process, and those that they start, get their turn before other programs' (a nice value of -10) for the
    /// rest of its life. A collection stops the audio thread until the thread that does it is done and every other one has come to a stop;
    /// any of them may be waiting for a core just then. False where the system or the user's limits do not allow it.
    /// </summary>
    public static bool TryPreferProcess()
    {
        if (!OperatingSystem.IsLinux())
        {
            return false;
        }

        try
        {
            var all = true;
            // On Linux a nice value belongs to a thread.
            foreach (var task in Directory.EnumerateDirectories("/proc/self/task"))
            {
                all &= uint.TryParse(Path.GetFileName(task), NumberStyles.None, CultureInfo.InvariantCulture, out var thread)
                    && SetNice(OneThread, thread, Preferred) == 0;
            }

            return all;
        }
        catch (Exception problem) when (problem is EntryPointNotFoundException or DllNotFoundException or IOException or UnauthorizedAccessException)
        {
            return false;
        }
    }

    /// <summary>
    /// Runs a short native call with raised priority, so that threads which that call starts inherit it; the caller has its own
    /// priority back afterwards.
    /// </summary>
    /// <remarks>
    /// For libraries whose plugins move the sound on a thread of their own: raised alone, the thread that writes to them only
    /// waits for the one that was not.
    /// </remarks>
    public static int WithInherited(Func<int> call)
    {
        if (!OperatingSystem.IsLinux())
        {
            return call();
        }

        var before = stackalloc int[ParameterInts];
        var raised = stackalloc int[ParameterInts];
        new Span<int>(before, ParameterInts).Clear();
        new Span<int>(raised, ParameterInts).Clear();
        raised[0] = Priority;
        bool isRaised;
        int policy;
        try
        {
            isRaised = GetSchedulingParameters(Self(), &policy, before) == 0
                && SetSchedulingParameters(Self(), RoundRobin, raised) == 0;
        }
        catch (EntryPointNotFoundException)
        {
            return call();
        }

        try
        {
            return call();
        }
        finally
        {
            if (isRaised)
            {
                _ = SetSchedulingParameters(Self(), policy, before);
            }
        }
    }

    [LibraryImport("libc", EntryPoint = "setpriority")]
    private static partial int SetNice(int kind, uint which, int value);

    [LibraryImport("libc", EntryPoint = "pthread_self")]
    private static partial nint Self();

    [LibraryImport("libc", EntryPoint = "pthread_setschedparam")]
    private static partial int SetSchedulingParameters(nint thread, int policy, int* parameters);

    [LibraryImport("libc", EntryPoint = "pthread_getschedparam")]
    private static partial int GetSchedulingParameters(nint thread, int* policy, int* parameters);
}
